//! The tidal volume that reached the lung, with its uncertainty.

use super::{InspiratoryLeakShare, LeakPath, LeakPathState, VolumeCredibility};
use crate::breath::{Breath, PhaseIntegrals};
use crate::quantity::unit::Ml;
use crate::quantity::{Flow, Magnitude, Volume};
use crate::record;
use crate::signal::Flags;
use core::fmt;

record! {
    /// The inspired volume with the leak taken off, or why it cannot be known.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[must_use]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum LungVolume {
        /// The volume and its standard uncertainty.
        Known {
            /// Volume that reached the lung.
            volume: Volume,
            /// One standard deviation: the doubt of the learned line, that of the tube's loss, and 1 % of
            /// the volume, as a root of squares; for a breath that misses the curve, also how far its own
            /// balance lies from it; and where no quiet end of late tells what leaks at rest, half of what
            /// is taken to leak in its expiration: a leak that opens under the inflation loses none there.
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
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum NoLungVolume {
        /// The breath carries a flag.
        Flagged = 0,
        /// The leak path is not known: no breath has taught it yet.
        NoLeakPath = 1,
        /// The uncertainty is above half of the volume.
        TooUncertain = 3,
        /// The volume was clamped.
        OutOfRange = 4,
    }
}

impl fmt::Display for LungVolume {
    /// The volume with its uncertainty, or why it is not known.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Known { volume, sd } => write!(f, "{:.1} ± {sd:.1}", volume.get()),
            Self::Unknown(why) => write!(f, "not known: {why}"),
        }
    }
}

impl fmt::Display for NoLungVolume {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Flagged => "the breath carries a flag",
            Self::NoLeakPath => "the leak path is not known",
            Self::TooUncertain => "the uncertainty is above half of the volume",
            Self::OutOfRange => "the volume is out of range",
        })
    }
}

impl LeakPath {
    /// The volume of a closed breath that reached the lung, by what was learned up to and with it. A
    /// drifted zero does not hinder it: the curve takes it as it takes a leak. Some twenty wide divides.
    #[doc(hidden)]
    #[inline(never)]
    pub fn lung_volume(&self, state: &LeakPathState, breath: &Breath) -> LungVolume {
        if !breath.flags.but(Flags::ZERO_DRIFT).is_empty() {
            return LungVolume::Unknown(NoLungVolume::Flagged);
        }
        if state.is_guessing() {
            return LungVolume::Unknown(NoLungVolume::NoLeakPath);
        }
        let inspiration = &breath.inspiration;
        let Some(volume) = self.into_lung(state, inspiration).within() else {
            return LungVolume::Unknown(NoLungVolume::OutOfRange);
        };
        let apart = if state.is_misfit() {
            let balance = InspiratoryLeakShare::of_breath(breath).map(|split| {
                split.lung_volume(breath.inspired.value, breath.returned().value).value
            });
            balance.map_or(Magnitude::ZERO, |balance| balance.apart(volume))
        } else {
            Magnitude::ZERO
        };
        let line = self.line_doubt(state, breath);
        let tube = self.tube_part(state, inspiration);
        let law = law_part(state, breath);
        let sd = Magnitude::root_of_squares([apart, line, tube, law, volume.hundredth()]);
        if sd > volume.halved(1) {
            return LungVolume::Unknown(NoLungVolume::TooUncertain);
        }
        LungVolume::Known { volume, sd }
    }

    /// How far the curve is in doubt over an inspiration. One quiet end of a second is taken to be in
    /// doubt by a sixteenth of the inspired volume, or by what breaths miss the curve.
    fn line_doubt(&self, state: &LeakPathState, breath: &Breath) -> Magnitude<Ml> {
        let Some(tip) = breath.inspiration.mean_tip() else { return Magnitude::MAX };
        let one = breath.inspired.value.halved(4).max(state.scatter());
        let doubt = one.times(state.doubt(tip)).value;
        over(doubt.each_second(), &breath.inspiration)
    }

    /// What the doubt of the tube's loss makes of it.
    fn tube_part(&self, state: &LeakPathState, inspiration: &PhaseIntegrals) -> Magnitude<Ml> {
        let (Some(flow), Some(tip)) = (inspiration.mean_flow(), inspiration.mean_tip()) else {
            return Magnitude::MAX;
        };
        over(self.tube_doubt(state, tip, flow), inspiration)
    }
}

/// What the doubt of the leak's law makes of it: what is guessed to leak in the expiration may all have leaked
/// in the inspiration, which is two standard deviations.
fn law_part(state: &LeakPathState, breath: &Breath) -> Magnitude<Ml> {
    let past = state.guessed_past(&breath.expiration).max(Volume::ZERO);
    past.halved(1).magnitude()
}

/// The volume that a flow makes over the known time of a stretch.
fn over(flow: Flow, sums: &PhaseIntegrals) -> Magnitude<Ml> {
    flow.over(sums.known().to_short_us().value).in_seconds().value.magnitude()
}

impl LeakPathState {
    /// What the leak over the window leaves of a displayed volume; `None` without a window.
    #[must_use]
    pub fn belief(&self) -> Option<VolumeCredibility> {
        self.window_share().map(VolumeCredibility::at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::breath::EndExpiration;
    use crate::quantity::{Duration, Pressure};

    fn steady(flow: i16, pressure: i16, millis: u32) -> PhaseIntegrals {
        PhaseIntegrals::steady(1_000 * i32::from(flow), pressure, millis)
    }

    #[test]
    fn a_clamped_volume_is_not_known() {
        // 16 000 mL in at −10 cmH2O over 1 s, 14 000 mL out at 20 cmH2O over 1 s: on average 1 000 mL/s
        // at (√20 − √10) ÷ 2 = 0.655 √cmH2O, so 1 527 mL/s for each. In: 16 000 + 1 527 × √10 = 20 829 mL
        // fit; at −140 cmH2O 16 000 + 1 527 × 11.83 = 34 068 mL do not.
        let path = LeakPath::default();
        let breath = |pressure| {
            let (inspiration, expiration) =
                (steady(16_000, pressure, 1_000), steady(-14_000, 20, 1_000));
            let [inspired, expired] = Breath::volumes(&inspiration, &expiration);
            Breath { inspiration, expiration, inspired, expired, ..Breath::plain() }
        };
        let mut state = LeakPathState::default();
        assert_eq!(path.judge(&state, &breath(-10)), Flags::UNSETTLED);
        path.learn(&mut state, &breath(-10));
        let out = LungVolume::Unknown(NoLungVolume::OutOfRange);
        assert_ne!(path.lung_volume(&state, &breath(-10)), out);
        assert_eq!(path.lung_volume(&state, &breath(-140)), out);
    }

    #[test]
    fn a_hundredth_of_the_volume_is_always_in_doubt() {
        // 30 mL/s in and out for 0.3 s at one pressure, a thousand times: nothing leaks, and the line is nearly known.
        let (inspiration, expiration) = (steady(30, 5, 300), steady(-30, 5, 300));
        let [inspired, expired] = Breath::volumes(&inspiration, &expiration);
        let breath = Breath { inspiration, expiration, inspired, expired, ..Breath::plain() };
        let (path, mut state) = (LeakPath::default(), LeakPathState::default());
        (0..1_000).for_each(|_| path.learn(&mut state, &breath));
        let told = path.lung_volume(&state, &breath);
        let LungVolume::Known { volume, sd } = told else { panic!("{told:?}") };
        assert_eq!(volume, Volume::from_int(9));
        // 0.09 mL, and of the line half of that: no more than √(0.09² + 0.05²) = 0.103.
        let (least, most) = (Volume::from_milli(90).value, Volume::from_milli(103).value);
        assert!(sd >= least && sd <= most, "{sd:?}, not {least:?} to {most:?}");
    }

    /// A leak that opens under the inflation alone and one that takes a root of the pressure give the same
    /// net flow: without a quiet end the told volume must reach from one to the other.
    #[test]
    fn without_a_quiet_end_the_law_of_the_leak_is_in_doubt() {
        // In 20 mL in 0.5 s at 16 cmH2O, out 10 mL in 1 s at 4: 10 mL leak, 6.67 mL/s on average. A root of
        // (0.5 × 4 + 1 × 2) ÷ 1.5 on average: 2.5 mL/s each, so 2.5 × 4 × 0.5 = 5 mL in the inspiration and 5 in
        // the expiration. 15 mL reached the lung if so, 10 if nothing leaks at 4 cmH2O.
        let (inspiration, expiration) = (steady(40, 16, 500), steady(-10, 4, 1_000));
        let [inspired, expired] = Breath::volumes(&inspiration, &expiration);
        let breath = Breath { inspiration, expiration, inspired, expired, ..Breath::plain() };
        let told = |breath: &Breath| {
            let (path, mut state) = (LeakPath::default(), LeakPathState::default());
            (0..50).for_each(|_| path.learn(&mut state, breath));
            let told = path.lung_volume(&state, breath);
            let LungVolume::Known { volume, sd } = told else { panic!("{told:?}") };
            [volume, sd].map(|x| x.to_f64())
        };
        let [volume, sd] = told(&breath);
        assert!((volume - 15.0).abs() < 0.1, "{volume} mL, not 15");
        // Half of 5 mL; of the line 20 mL ÷ 16 over a second × (16 − 8) ÷ (8 × √(1/16)) × 0.5 s = 2.5 mL, too.
        assert!((3.4..3.7).contains(&sd), "{sd} mL, not √2 × 2.5");
        // Quiet ends at 4 cmH2O at which nothing flows settle it.
        let quiet = EndExpiration {
            span: Duration::from_millis(300),
            pressure: Pressure::from_int(4),
            ..EndExpiration::default()
        };
        let [volume, sd] = told(&Breath { quiet: Some(quiet), ..breath });
        assert!((volume - 10.0).abs() < 2.0 * sd && sd < 1.0, "{volume} ± {sd} mL, not 10");
    }

    #[test]
    fn a_doubt_of_just_half_of_the_volume_is_not_too_much() {
        // Nothing flows: no volume, and no doubt of it.
        let (inspiration, expiration) = (steady(0, 15, 400), steady(0, 5, 600));
        let [inspired, expired] = Breath::volumes(&inspiration, &expiration);
        let breath = Breath { inspiration, expiration, inspired, expired, ..Breath::plain() };
        let (path, mut state) = (LeakPath::default(), LeakPathState::default());
        let guess = LungVolume::Unknown(NoLungVolume::NoLeakPath);
        assert_eq!(path.lung_volume(&state, &breath), guess);
        path.learn(&mut state, &breath);
        let none = LungVolume::Known { volume: Volume::ZERO, sd: Volume::ZERO };
        assert_eq!(path.lung_volume(&state, &breath), none);
        let drifted = Breath { flags: Flags::ZERO_DRIFT, ..breath };
        assert_eq!(path.lung_volume(&state, &drifted), none);
        let gap = Breath { flags: Flags::GAP.with(Flags::ZERO_DRIFT), ..breath };
        assert_eq!(path.lung_volume(&state, &gap), LungVolume::Unknown(NoLungVolume::Flagged));
    }
}
