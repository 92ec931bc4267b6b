//! What each step to come would leave the infant to move, against what is needed.

use super::plot::{Plot, Side, swatch};
use crate::config::Bedside;
use crate::figures::{Summary, float};
use crate::report::{NEEDED, plan};
use crate::text::decimals;
use maud::{Markup, html};

pub(super) fn figure(summary: &Summary, bedside: &Bedside) -> Option<Markup> {
    let (_, steps) = plan::steps(summary, bedside).ok()?;
    let own = float(plan::measured(summary, bedside).own?.to_bits()) / summary.kg()?;
    let assured: Vec<_> =
        steps.iter().map(|s| Some(float(s.assured_per_kg?.within()?.to_bits()))).collect();
    if steps.len() < 2 || assured.iter().all(Option::is_none) {
        return None;
    }
    let needed = float(bedside.needed.unwrap_or(NEEDED).to_bits());
    let high = assured.iter().flatten().map(|set| own + set).fold(needed, f64::max) * 1.15;
    let mut plot = Plot::new((-0.5, steps.len() as f64 - 0.5), (0.0, high), 150);
    let mut told = Vec::new();
    for (i, (step, set)) in steps.iter().zip(&assured).enumerate() {
        let (at, Some(set)) = (i as f64, set) else { continue };
        let across = (at - 0.32, at + 0.32);
        plot.band("bar own", across, (0.0, own));
        plot.band("bar set", across, (own, own + set));
        told.push(format!("step {}: {}", step.number, decimals(own + set, 0)));
    }
    plot.level("set-value", needed);
    plot.text(
        "tick",
        (steps.len() as f64 - 0.5, needed + high * 0.05),
        Side::Right,
        &format!("needed {}", decimals(needed, 0)),
    );
    plot.scale("0", &format!("{} mL/kg/min", decimals(high, 0)));
    let every = steps.len().div_ceil(7);
    let ticks =
        steps.iter().enumerate().step_by(every).map(|(i, step)| {
            (i as f64, format!("{:.0} / {:.0}", step.rate.get(), step.peak.get()))
        });
    plot.ticks(&ticks.collect::<Vec<_>>(), "set rate a minute / peak, cmH2O; first: now");
    Some(html! {
        figure {
            (plot.svg("plan", "Minute volume by step to come", &told.join(", ")))
            figcaption {
                (swatch("own")) " lower part: what the infant moves beyond the set rate now, taken to stay; "
                (swatch("set")) " upper part: what the set inflations alone would still move. Where both end under \
                 the line, the step asks the infant for more than it moves now."
            }
        }
    })
}
