//! Who moved the minute volume at the end of each step: the set rate, or breaths that the infant began.

use super::plot::{Plot, Side, swatch};
use crate::figures::{Summary, float};
use crate::text::decimals;
use maud::{Markup, html};
use tidevane::trend::Tally;

/// Fewer steps need no figure, and more do not fit one.
const STEPS: std::ops::RangeInclusive<usize> = 2..=60;

pub(super) fn figure(summary: &Summary) -> Option<Markup> {
    let steps = &summary.steps.all;
    if !STEPS.contains(&steps.len()) {
        return None;
    }
    let weight = summary.settings.weight();
    let each = summary.kg().unwrap_or(1.0);
    let minute = |t: &Tally| Some(float(t.minute_volume()?.to_bits()) / each);
    let high = steps.iter().filter_map(|s| minute(s.last.as_ref()?)).fold(1.0, f64::max) * 1.15;
    let mut plot = Plot::new((0.5, steps.len() as f64 + 0.5), (0.0, high), 150);
    let mut told = Vec::new();
    for (i, step) in steps.iter().enumerate() {
        let at = i as f64 + 1.0;
        let Some((last, all)) = step.last.as_ref().and_then(|last| Some((last, minute(last)?)))
        else {
            plot.text("tick", (at, high * 0.05), Side::Middle, "short");
            continue;
        };
        let own = last.infant_share().map_or(0.0, |share| float(share.to_bits()) * all);
        plot.band("bar own", (at - 0.32, at + 0.32), (0.0, own));
        plot.band("bar set", (at - 0.32, at + 0.32), (own, all));
        let index = weight.and_then(|w| last.rapid_shallow(w));
        if let Some(index) = index {
            let words = decimals(index.value.value.to_num(), 0);
            plot.text("tick", (at, all + high * 0.06), Side::Middle, &words);
        }
        if step.asked_back().is_some() {
            plot.text("missed", (at, all * 0.5), Side::Middle, "!");
        }
        told.push(format!("step {}: {}", i + 1, decimals(all, 0)));
    }
    let every = steps.len().div_ceil(12);
    let ticks: Vec<_> =
        (1..=steps.len()).step_by(every).map(|n| (n as f64, n.to_string())).collect();
    plot.ticks(&ticks, "step");
    let unit = if weight.is_some() { "mL/kg/min" } else { "mL/min" };
    plot.scale("0", &format!("{} {unit}", decimals(high, 0)));
    Some(html! {
        figure {
            (plot.svg("shares", "Minute volume at the end of each step", &told.join(", ")))
            figcaption {
                (swatch("own")) " lower part: breaths that the infant began, supported or own; " (swatch("set"))
                " upper part: the set rate. Above each its rapid-shallow index; ! where a step back was asked for."
            }
        }
    })
}
