//! The steps of weaning and what was made of each, along the axis of time.

use super::plot::{Plot, Side};
use crate::figures::Summary;
use maud::Markup;
use tidevane::trend::LoadVerdict;

/// More steps than these would hide what is drawn over them.
const MOST: usize = 60;

/// A line where each step begins.
pub(super) fn borders(plot: &mut Plot, summary: &Summary) {
    let steps = &summary.steps.all;
    for step in steps.iter().skip(1).take(if steps.len() > MOST { 0 } else { MOST }) {
        plot.upright("step", step.from_s);
    }
}

/// The steps by number, with a line where each begins.
pub(super) fn steps(summary: &Summary) -> Markup {
    let mut plot = Plot::new((0.0, summary.seconds), (0.0, 1.0), 18);
    let mut told = Vec::new();
    borders(&mut plot, summary);
    for (i, step) in summary.steps.all.iter().enumerate() {
        if step.to_s - step.from_s > summary.seconds / 30.0 {
            let x = 100.0 * step.from_s / summary.seconds.max(1.0) + 0.4;
            plot.words_at("tick", x, 13.0, Side::Left, &(i + 1).to_string());
        }
        told.push(format!("{} at {}: {}", i + 1, summary.clock(step.from_s), step.machine));
    }
    plot.svg("steps", "Steps", &told.join("; "))
}

/// The verdicts on each step: the higher the bar the more it asks.
pub(super) fn load(summary: &Summary) -> Markup {
    let mut plot = Plot::new((0.0, summary.seconds), (0.0, 1.0), 20);
    let mut told = Vec::new();
    borders(&mut plot, summary);
    for step in &summary.steps.all {
        let ends = step.verdicts.iter().skip(1).map(|v| v.0).chain([step.to_s]);
        for ((from, verdict), to) in step.verdicts.iter().zip(ends) {
            let (class, high) = match verdict {
                LoadVerdict::StepBack(_) => ("back", 1.0),
                LoadVerdict::Hold(_) => ("hold", 0.5),
                LoadVerdict::NoSign => ("quiet", 0.12),
                LoadVerdict::CannotTell(_) => continue,
            };
            plot.band(class, (*from, to), (0.0, high));
            if !matches!(verdict, LoadVerdict::NoSign) {
                told.push(format!("{} from {}", verdict.name(), summary.clock(*from)));
            }
        }
    }
    if told.is_empty() {
        told.push("no sign wherever it could be told".into());
    }
    plot.svg(
        "load",
        "Load: full height a step back, half hold, a line no sign, nothing not known",
        &told.join("; "),
    )
}
