//! The floor: what flows at the sensor while nobody breathes.

use crate::breath::{Breath, EndExpiration};
use crate::quantity::{Flow, Pressure};
use crate::record;
use crate::signal::Flags;

record! {
    #[const_default]
    /// The floor under any trigger threshold, from the quiet ends of recent expirations.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub struct NoiseFloor {
        /// Mean flow: the leak at baseline pressure.
        pub leak: Flow,
        /// Noise and ripple about it; `None` where no expiration had a quiet end yet, and only the
        /// leak is known.
        pub noise: Option<Noise>,
        /// Baseline pressure at which this was seen.
        pub pressure: Pressure,
    }
}

record! {
    #[const_default]
    /// Noise and heartbeat ripple of the quiet flow.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub struct Noise {
        /// How far they reach from the mean.
        pub reach: Flow,
        /// Standard deviation about the mean.
        pub spread: Flow,
    }
}

impl From<EndExpiration> for NoiseFloor {
    fn from(quiet: EndExpiration) -> Self {
        Self {
            leak: quiet.flow,
            noise: Some(Noise { reach: quiet.reach(), spread: quiet.spread }),
            pressure: quiet.pressure,
        }
    }
}

record! {
    #[const_default]
    /// The floor over recent breaths: each trusted one moves it a quarter of the way.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct NoiseFloorState {
        floor: Option<NoiseFloor>,
    }
}

impl NoiseFloorState {
    /// Takes a closed breath, and the leak that the leak path models at its baseline pressure: that
    /// serves where the expiration before had no quiet end of 150 ms, since fast cycling hides the
    /// floor just when it matters. A flagged one changes nothing, but for one that tells that the leak
    /// is another one now: the floor is forgotten. No divide.
    pub fn learn(&mut self, breath: &Breath, modelled_leak: Option<Flow>) {
        if breath.flags.has(Flags::UNSETTLED) {
            *self = Self::default();
        }
        if !breath.is_trusted() {
            return;
        }
        let quiet = breath.quiet.filter(|quiet| quiet.span >= EndExpiration::LONG_ENOUGH);
        let now = match (quiet, modelled_leak) {
            (Some(quiet), _) => NoiseFloor::from(quiet),
            (None, Some(leak)) => NoiseFloor { leak, noise: None, pressure: breath.baseline },
            (None, None) => return,
        };
        self.floor = Some(match self.floor {
            None => now,
            Some(was) => NoiseFloor {
                leak: was.leak.lowpass(now.leak, 2),
                noise: match (was.noise, now.noise) {
                    (Some(was), Some(now)) => Some(Noise {
                        reach: was.reach.lowpass(now.reach, 2),
                        spread: was.spread.lowpass(now.spread, 2),
                    }),
                    (was, now) => now.or(was),
                },
                pressure: now.pressure,
            },
        });
    }

    /// The floor; `None` where no trusted breath had a quiet end and no leak could be modelled yet.
    #[must_use]
    pub const fn floor(&self) -> Option<NoiseFloor> {
        self.floor
    }
}
