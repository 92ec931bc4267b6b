//! What peak pressure each target volume would need, and what that would pass.

use super::plot::{Plot, Side, rounds};
use crate::figures::{Summary, float};
use crate::report::wanted::{Trial, Wanted};
use crate::text::decimals;
use maud::{Markup, html};

/// So many targets are tried,
const TARGETS: usize = 40;
/// up to so many mL/kg; without a weight up to so many times the median.
const MOST: f64 = 10.0;
const TIMES: f64 = 2.0;

/// The targets tried, rising; none where the inflations do not tell.
pub(super) fn tried(summary: &Summary) -> Vec<Wanted> {
    let Some(trial) = Trial::of(summary) else { return Vec::new() };
    let most = summary.kg().map_or_else(|| TIMES * trial.median(), |kg| MOST * kg);
    (1..=TARGETS).map(|i| trial.of_target(most * i as f64 / TARGETS as f64)).collect()
}

/// How a target is told.
pub(super) fn told(summary: &Summary, ml: f64) -> String {
    let per_kg = summary.kg().map(|kg| format!("{} mL/kg, ", decimals(ml / kg, 2)));
    format!("{}{} mL", per_kg.unwrap_or_default(), decimals(ml, 1))
}

pub(super) fn figure(summary: &Summary, tried: &[Wanted]) -> Markup {
    let (Some(last), Some(trial)) = (tried.last(), Trial::of(summary)) else { return html! {} };
    let bar = trial.bar;
    let high = tried.iter().map(|t| t.peak[1]).fold(bar.map_or(0.0, |b| b.1), f64::max) * 1.1;
    let mut plot = Plot::new((0.0, last.ml), (0.0, high), 150);
    plot.area("shade set", tried.iter().map(|t| Some([t.ml, t.peak[0], t.peak[2]])));
    plot.line("line set", tried.iter().map(|t| Some((t.ml, t.peak[1]))));
    if let Some((name, bar)) = bar {
        plot.level("set-value", bar);
        plot.text(
            "tick",
            (0.0, bar - high * 0.07),
            Side::Left,
            &format!("{name}, {}", decimals(bar, 1)),
        );
    }
    let target = summary.settings.proposal().map(|p| float(p.target().to_bits()));
    if let Some(target) = target.filter(|target| *target <= last.ml) {
        plot.upright("held-target", target);
        let side = if 2.0 * target > last.ml { Side::Right } else { Side::Left };
        plot.text(
            "held",
            (target, high * 0.08),
            side,
            &format!(" target {} mL ", decimals(target, 1)),
        );
    }
    let start = target.unwrap_or_else(|| trial.median());
    let far = |i: &usize| (tried[*i].ml - start).abs();
    let near = (0..tried.len()).min_by(|a, b| far(a).total_cmp(&far(b))).unwrap_or_default();
    plot.upright("tried target", tried[near].ml);
    plot.words_at("tick", 0.0, 10.0, Side::Left, &format!("{} cmH2O", decimals(high, 0)));
    let kg = summary.kg().unwrap_or(1.0);
    let ticks = rounds((0.0, last.ml / kg), 6).into_iter().map(|v| (v * kg, decimals(v, 0)));
    let unit =
        if summary.kg().is_some() { "target, mL/kg in the lung" } else { "target, mL in the lung" };
    plot.ticks(&ticks.collect::<Vec<_>>(), unit);
    let desc = format!(
        "{} need a peak of {} cmH2O",
        told(summary, tried[near].ml),
        decimals(tried[near].peak[1], 1)
    );
    html! {
        figure {
            (plot.svg("targets", "Peak pressure by target volume", &desc))
            .try hidden { label { "Try a target volume" input type="range" id="try-target" min="0" max=(tried.len() - 1) value=(near); } output id="said-target" {} }
            figcaption {
                "By " (trial.count()) " set-rate inflations of the last hour, in proportion: the median peak that a \
                 target would have needed, the middle half in shade. A lung near its limit needs more. Dotted: the \
                 target tried; the table below has six of them."
            }
        }
    }
}
