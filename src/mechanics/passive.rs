//! Whether a breath looks passive before any fit.

use super::no_fit::NoFit;
use crate::breath::{Breath, Kind, TriggerPhase};
use crate::quantity::Flow;

/// Whether the infant took part in a breath, as far as flow and pressure show.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[doc(hidden)]
pub enum Passivity {
    /// No sign of work. Work in the midst of an inflation shows only in the fit's R².
    Passive,
    /// The breath carries a flag.
    Flagged,
    /// The infant breathed alone.
    Own,
    /// Gas went in before the machine raised the pressure.
    EffortBefore,
    /// The infant ended the inflation.
    EndedByInfant,
    /// The muscle pressure rose.
    AtWork,
}

impl Passivity {
    /// Whether a fit may look at the breath, or why not.
    ///
    /// # Errors
    /// The reason for none.
    pub const fn judged(self) -> Result<(), NoFit> {
        match self {
            Self::Passive => Ok(()),
            Self::Flagged => Err(NoFit::Flagged),
            Self::Own | Self::EffortBefore | Self::EndedByInfant | Self::AtWork => {
                Err(NoFit::NotPassive)
            }
        }
    }
}

/// Judges a closed breath; `noise` is the flow at the sensor below which nothing is told from leak,
/// noise and ripple, and `at_work` whether the muscle pressure is known to have risen in it
/// ([`trigger::EffortState`](crate::trigger::EffortState)).
#[must_use]
#[doc(hidden)]
pub fn passivity(breath: &Breath, noise: Flow, at_work: bool) -> Passivity {
    let lead = breath.lead.until.since(breath.onset);
    if !breath.is_trusted() {
        Passivity::Flagged
    } else if breath.kind == Kind::Own {
        Passivity::Own
    } else if breath.lead.peak > noise && lead >= TriggerPhase::LEAST_LEAD {
        Passivity::EffortBefore
    } else if breath.is_ended_by_infant(noise) {
        Passivity::EndedByInfant
    } else if at_work {
        Passivity::AtWork
    } else {
        Passivity::Passive
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Duration, Pressure};

    #[test]
    fn flow_before_the_rise_beyond_the_noise_is_an_effort() {
        // A noise of 4 mL/s; so much flow in the lead, and so long a one.
        let told = |milli, lead| {
            let mut breath = Breath { kind: Kind::Inflation, ..Breath::plain() };
            breath.lead.peak = Flow::from_milli(milli).value;
            breath.lead.until = breath.onset.after(Duration::from_millis(lead));
            passivity(&breath, Flow::from_int(4), false)
        };
        assert_eq!(
            (told(4_000, 20), told(4_001, 20)),
            (Passivity::Passive, Passivity::EffortBefore)
        );
        assert_eq!(
            (told(9_000, 14), told(9_000, 15)),
            (Passivity::Passive, Passivity::EffortBefore)
        );
        assert_eq!((told(0, 0), told(3_000, 80)), (Passivity::Passive, Passivity::Passive));
        let calm = Breath { kind: Kind::Inflation, ..Breath::plain() };
        assert_eq!(passivity(&calm, Flow::ZERO, true), Passivity::AtWork);
        assert_eq!(passivity(&Breath::plain(), Flow::ZERO, true), Passivity::Own);
        let peak = Pressure::from_int(15);
        let (end_insp_pressure, early_out) = (peak, Flow::from_int(5));
        let ended = Breath { peak, end_insp_pressure, early_out, ..calm };
        assert_eq!(passivity(&ended, Flow::from_int(4), true), Passivity::EndedByInfant);
    }
}
