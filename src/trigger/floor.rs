//! The floor: what flows at the sensor while nobody breathes.

use crate::breath::{Breath, Quiet};
use crate::quantity::{Flow, Pressure, Span};

/// The floor under any trigger threshold, from the quiet ends of recent expirations.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Floor {
    /// Mean flow: the leak at baseline pressure.
    pub leak: Flow,
    /// How far noise and ripple reach from the mean.
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
            reach: quiet.reach(),
            spread: quiet.spread,
            pressure: quiet.pressure,
        }
    }
}

/// A shorter quiet may still be the tail of the expiration.
const LONG_ENOUGH: Span = Span::from_millis(150);

/// The floor over recent breaths: each trusted one moves it a quarter of the way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct FloorState {
    floor: Option<Floor>,
}

impl FloorState {
    /// Takes a closed breath, and the leak that the leak path models at its baseline pressure: that
    /// serves where the expiration before had no quiet end of 150 ms, since fast cycling hides the
    /// floor just when it matters. No divide.
    pub fn learn(&mut self, breath: &Breath, modelled_leak: Option<Flow>) {
        if !breath.is_trusted() {
            return;
        }
        let was = self.floor;
        let quiet = breath.quiet.filter(|quiet| quiet.span >= LONG_ENOUGH);
        let now = match (quiet, modelled_leak) {
            (Some(quiet), _) => Floor::from(quiet),
            (None, Some(leak)) => {
                Floor { leak, pressure: breath.baseline, ..was.unwrap_or_default() }
            }
            (None, None) => return,
        };
        let toward = |from: Flow, to: Flow| {
            from.saturating_add(to.saturating_sub(from).value.halved(2)).value
        };
        self.floor = Some(was.map_or(now, |was| Floor {
            leak: toward(was.leak, now.leak),
            reach: toward(was.reach, now.reach),
            spread: toward(was.spread, now.spread),
            pressure: now.pressure,
        }));
    }

    /// The floor; `None` where no trusted breath had a quiet end and no leak could be modelled yet.
    #[must_use]
    pub const fn floor(&self) -> Option<Floor> {
        self.floor
    }
}
