//! The tidal volume that reached the lung, with its uncertainty.

use super::{Belief, LeakPath, LeakPathState, Split};
use crate::breath::{Breath, Sums};
use crate::quantity::{Share, Volume, arith};
use crate::record;
use core::fmt;

record! {
    /// The inspired volume with the leak taken off, or why it cannot be known.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[must_use]
    pub enum LungVolume {
        /// The volume and its standard uncertainty.
        Known {
            /// Volume that reached the lung.
            volume: Volume,
            /// One standard deviation: the scatter of the breaths about the learned leak, half the
            /// difference between the two leak laws, and 1 % of the volume, as a root of squares.
            sd: Volume,
        } = 0,
        /// It cannot be known.
        Unknown(NoLungVolume) = 1,
    }
}

record! {
    /// Why the volume in the lung cannot be known.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[non_exhaustive]
    pub enum NoLungVolume {
        /// The breath carries a flag.
        Flagged = 0,
        /// The leak path is not known: nothing heard yet, or too little pressure to learn from.
        NoLeakPath = 1,
        /// More came out than went in, by more than scatter: no leak explains it.
        NegativeLeak = 2,
        /// The uncertainty is above half of the volume.
        TooUncertain = 3,
        /// The volume was clamped.
        OutOfRange = 4,
    }
}

impl fmt::Display for NoLungVolume {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Flagged => "the breath carries a flag",
            Self::NoLeakPath => "the leak path is not known",
            Self::NegativeLeak => "more came out than went in",
            Self::TooUncertain => "the uncertainty is above half of the volume",
            Self::OutOfRange => "the volume is out of range",
        })
    }
}

/// Below this a negative share is noise.
const NEGATIVE_NOISE: Share = Share::from_percent(-5);

impl LeakPath {
    /// The volume of a closed breath that reached the lung, by what was learned up to and with it.
    /// For a breath that misses the model (a step in leak) its own balance serves instead. About
    /// six wide divides.
    pub fn lung_volume(&self, state: &LeakPathState, breath: &Breath) -> LungVolume {
        if !breath.is_trusted() {
            return LungVolume::Unknown(NoLungVolume::Flagged);
        }
        let Some(leak) = state.window_share() else {
            return LungVolume::Unknown(NoLungVolume::NoLeakPath);
        };
        if leak < NEGATIVE_NOISE {
            return LungVolume::Unknown(NoLungVolume::NegativeLeak);
        }
        let Some(by_path) = self.into_lung(state, &breath.inspiration).within() else {
            return LungVolume::Unknown(NoLungVolume::OutOfRange);
        };
        let split = Split::of_breath(breath);
        let by_balance = split
            .map(|split| split.lung_volume(breath.inspired.value, breath.returned().value).value);
        let apart = match by_balance {
            Some(balance) if state.is_misfit() => distance(balance, by_path),
            _ => 0,
        };
        let volume = by_path;
        let inspiratory = split.map_or(Share::ONE, Split::inspiratory);
        let scatter = state.scatter().times(inspiratory).value.halved(1);
        let laws = law_difference(state, self, breath, inspiratory);
        let parts =
            [apart, scatter.to_bits().unsigned_abs(), laws, arith::hundredth(volume.to_bits())];
        let sd = Volume::from_bits(arith::root_of_squares(&parts));
        if sd > volume.halved(1) {
            return LungVolume::Unknown(NoLungVolume::TooUncertain);
        }
        LungVolume::Known { volume, sd }
    }
}

impl LeakPathState {
    /// What the leak over the window leaves of a displayed volume; `None` without a window.
    #[must_use]
    pub fn belief(&self) -> Option<Belief> {
        self.window_share().map(Belief::at)
    }
}

fn distance(a: Volume, b: Volume) -> u32 {
    a.to_bits().abs_diff(b.to_bits())
}

/// Half of what the other leak law would change in the inspiratory leak.
fn law_difference(state: &LeakPathState, path: &LeakPath, breath: &Breath, here: Share) -> u32 {
    let (inspiration, whole) = (&breath.inspiration, breath.inspiration.with(&breath.expiration));
    let leak = |sums: &Sums| {
        let rest = path.into_lung(state, sums).value;
        sums.volume().value.saturating_sub(rest).value
    };
    let Some(other) = path.other_split(inspiration, &whole) else { return 0 };
    let change = other.saturating_sub(here).value;
    leak(&whole).times(change).value.halved(1).to_bits().unsigned_abs()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::leak::Law;
    use crate::quantity::{Drive, Flow, Pressure, Span};
    use crate::signal::{End, Flags, Interval};

    fn steady(flow: i16, pressure: i16, millis: u32) -> Sums {
        let (flow, pressure) = (Flow::from_int(flow), Pressure::from_int(pressure));
        let end = End { flow, lung: flow, pressure, drive: Law::Laminar.drive(pressure) };
        let span = Span::from_millis(millis);
        Sums::of(&Interval { span, from: end, to: end, ..Interval::default() })
    }

    #[test]
    fn a_clamped_volume_is_not_known() {
        // 20 000 mL in at −10 cmH2O over 1 s, 10 000 mL out at 20 cmH2O over 1 s: net 10 000 mL over
        // a drive of 10 cmH2O·s, so k = 1 000 mL/s per cmH2O. In: 20 000 + 1 000 × 10 = 30 000 mL fit;
        // at −20 cmH2O 40 000 mL do not.
        let path = LeakPath::new(Law::Laminar, Drive::from_int(1)).unwrap();
        let breath = |pressure| {
            let (inspiration, expiration) =
                (steady(20_000, pressure, 1_000), steady(-10_000, 20, 1_000));
            let [inspired, expired] = Breath::volumes(&inspiration, &expiration);
            Breath { inspiration, expiration, inspired, expired, ..Breath::plain() }
        };
        let mut state = LeakPathState::default();
        assert_eq!(path.judge(&state, &breath(-10)), Flags::UNSETTLED);
        path.learn(&mut state, &breath(-10));
        assert!(state.conductance().is_some());
        let out = LungVolume::Unknown(NoLungVolume::OutOfRange);
        assert_ne!(path.lung_volume(&state, &breath(-10)), out);
        assert_eq!(path.lung_volume(&state, &breath(-20)), out);
    }
}
