//! Whether a breath looks passive before any fit.

use super::no_fit::NoFit;
use crate::breath::{Breath, Kind};
use crate::quantity::{Duration, Flow};

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

/// The machine's own flow can run ahead of its pressure for so long.
const LEAST_LEAD: Duration = Duration::from_millis(15);

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
    } else if breath.lead.peak > noise && lead >= LEAST_LEAD {
        Passivity::EffortBefore
    } else if breath.is_ended_by_infant(noise) {
        Passivity::EndedByInfant
    } else if at_work {
        Passivity::AtWork
    } else {
        Passivity::Passive
    }
}
