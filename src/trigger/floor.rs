//! The floor: what flows at the sensor while nobody breathes.

use crate::breath::{Breath, Quiet};
use crate::quantity::{Flow, Pressure};

/// The floor under any trigger threshold, from the quiet ends of recent expirations.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Floor {
    /// Mean flow: the leak at baseline pressure.
    pub leak: Flow,
    /// How far noise and ripple reach above the mean.
    pub reach: Flow,
    /// Standard deviation about the mean.
    pub spread: Flow,
    /// Baseline pressure at which this was seen.
    pub pressure: Pressure,
}

impl From<Quiet> for Floor {
    fn from(quiet: Quiet) -> Self {
        Self {
            leak: quiet.flow,
            reach: quiet.high.saturating_sub(quiet.flow).value,
            spread: quiet.spread,
            pressure: quiet.pressure,
        }
    }
}

/// The floor over recent breaths: each trusted one with a quiet end moves it a quarter of the way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FloorState {
    floor: Option<Floor>,
}

impl FloorState {
    /// Takes a closed breath. No divide.
    pub fn learn(&mut self, breath: &Breath) {
        let (true, Some(quiet)) = (breath.is_trusted(), breath.quiet) else { return };
        let now = Floor::from(quiet);
        self.floor = Some(match self.floor {
            None => now,
            Some(was) => {
                let toward = |from: Flow, to: Flow| {
                    from.saturating_add(to.saturating_sub(from).value.halved(2)).value
                };
                Floor {
                    leak: toward(was.leak, now.leak),
                    reach: toward(was.reach, now.reach),
                    spread: toward(was.spread, now.spread),
                    pressure: now.pressure,
                }
            }
        });
    }

    /// The floor; `None` where no trusted breath had a quiet end yet.
    #[must_use]
    pub const fn floor(&self) -> Option<Floor> {
        self.floor
    }
}
