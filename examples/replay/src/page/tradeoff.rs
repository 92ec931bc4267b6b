//! What each threshold would have meant: self-cycling against missed efforts.

use super::plot::{Plot, Side};
use crate::figures::Summary;
use crate::text::{decimals, percent};
use maud::{Markup, html};
use tidevane::quantity::Share;
use tidevane::trigger::ThresholdOutlook;

/// One threshold with the shares in percent that it would have meant.
pub(super) struct Level {
    pub(super) lpm: f64,
    pub(super) cycled: f64,
    /// Efforts too small for certain, and with those whose size was hidden.
    pub(super) missed: Option<(f64, f64)>,
}

impl Level {
    pub(super) fn of(e: &ThresholdOutlook) -> Self {
        let share = |share: Share| 100.0 * share.get().to_num::<f64>();
        Self {
            lpm: e.threshold.to_l_per_min().to_num(),
            cycled: share(e.self_cycling),
            missed: e.missed_at_least.zip(e.missed_at_most).map(|(a, b)| (share(a), share(b))),
        }
    }
}

pub(super) fn levels(summary: &Summary) -> Vec<Level> {
    summary.expected.iter().map(Level::of).collect()
}

pub(super) fn figure(summary: &Summary) -> Markup {
    let levels = levels(summary);
    let Some(last) =
        levels.last().filter(|_| levels.iter().any(|l| l.missed.is_some() || l.cycled > 0.0))
    else {
        return html! {};
    };
    let mut plot = Plot::new((0.0, last.lpm), (0.0, 100.0), 180);
    plot.across_all("published", (0.0, 10.0));
    plot.area("shade own", levels.iter().map(|l| l.missed.map(|(low, high)| [l.lpm, low, high])));
    plot.line("line own", levels.iter().map(|l| l.missed.map(|(_, high)| (l.lpm, high))));
    plot.line("line alert", levels.iter().map(|l| Some((l.lpm, l.cycled))));
    plot.text("alert", (levels[0].lpm, levels[0].cycled.max(12.0)), Side::Left, " self-cycling");
    plot.text("own", (last.lpm, 70.0), Side::Right, "efforts missed");
    let set = summary.settings.machine().threshold.map(|t| t.flow().to_l_per_min().to_num::<f64>());
    if let Some(set) = set {
        plot.upright("set-value", set);
        plot.text(
            "tick",
            (set, 94.0),
            if set > last.lpm / 2.0 { Side::Right } else { Side::Left },
            &format!(" set {set:.2} "),
        );
    }
    plot.upright("tried threshold", set.unwrap_or(levels[0].lpm));
    plot.scale("0", "100 %");
    let step = (levels.len() / 5).max(1);
    let ticks: Vec<_> = levels.iter().step_by(step).map(|l| (l.lpm, decimals(l.lpm, 1))).collect();
    plot.ticks(&ticks, "threshold, L/min");
    let far = |level: &Level| (level.lpm - set.unwrap_or(level.lpm)).abs();
    let near = (0..levels.len()).min_by(|a, b| far(&levels[*a]).total_cmp(&far(&levels[*b])));
    let near = near.unwrap_or_default();
    let first = &levels[0];
    let desc = format!(
        "At {:.2} L/min {} of breaths self-cycle; at {:.2} L/min {}.",
        first.lpm,
        percent(first.cycled / 100.0),
        last.lpm,
        percent(last.cycled / 100.0)
    );
    html! {
        figure {
            (plot.svg("tradeoff", "Self-cycling and missed efforts by threshold", &desc))
            .try hidden { label { "Try a threshold" input type="range" id="try-threshold" min="0" max=(levels.len() - 1) value=(near); } output id="said-threshold" {} }
            figcaption { "By all breaths of the recording. Shaded: from efforts too small for certain to those whose size an \
                 inflation hid. The pale band: up to a tenth of efforts missed; of self-cycling a fiftieth is let \
                 pass. Dotted: the threshold tried." }
        }
    }
}
