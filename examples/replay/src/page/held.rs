//! What the volumes of a kind of breath are held against: the alarm, what is advised, and a target.

use super::plot::{Plot, Side};
use crate::config::Setup;
use crate::figures::{Summary, float};
use crate::report::levels;
use crate::text::decimals;
use tidevane::alarm::{BreathKind, Level};

/// A volume that breaths of a kind are held against: its name, and the stroke it is drawn with.
pub(super) struct Held {
    name: &'static str,
    class: &'static str,
    ml: f64,
}

impl Held {
    /// The alarm that is set, the level that is advised, and the target of inflations.
    pub(super) fn against(summary: &Summary, setup: &Setup, kind: BreathKind) -> Vec<Self> {
        let alarms = summary.settings.alarms();
        let set = match kind {
            BreathKind::Own => alarms.own_volume,
            BreathKind::Supported => alarms.supported_volume,
            BreathKind::Assured => alarms.assured_volume,
        };
        let set = set.limits();
        let advised = || {
            if levels::doubt(summary).is_some() {
                return None;
            }
            let advice =
                levels::advice(summary, &setup.bedside, summary.settings.weight()?).ok()?;
            match advice.advise(levels::latest(summary, &advice, kind)?.1, kind) {
                Level::Set { level, .. } => Some(level),
                Level::None(_) => None,
            }
        };
        let proposal = summary.settings.proposal().filter(|_| kind != BreathKind::Own);
        [
            ("target", "held-target", proposal.map(|proposal| proposal.target())),
            ("alarm over", "held-alarm", set.high()),
            ("alarm under", "held-alarm", set.low()),
            ("advised alarm under", "held-advised", advised()),
        ]
        .into_iter()
        .filter_map(|(name, class, ml)| Some(Self { name, class, ml: float(ml?.to_bits()) }))
        .collect()
    }

    /// Draws it as a line with its name in a lane over the bars, and says it. What lies beyond the axis has no place on it.
    pub(super) fn draw(&self, plot: &mut Plot, lane: usize, most: f64) -> String {
        let words = format!("{} {} mL", self.name, decimals(self.ml, 1));
        let is_right = 2.0 * self.ml > most;
        let side = if is_right { Side::Right } else { Side::Left };
        let down = 10.0 + 14.0 * lane as f64;
        if self.ml > most {
            plot.words_at("held", 100.0, down, side, &format!("{words}, beyond"));
        } else {
            plot.upright(self.class, self.ml);
            let aside = if is_right { -0.6 } else { 0.6 };
            plot.words_at("held", 100.0 * self.ml / most + aside, down, side, &words);
        }
        format!(", {words}")
    }
}
