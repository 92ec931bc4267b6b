//! How far a lung of one time constant empties.

use crate::quantity::arith;
use crate::quantity::{
    Compliance, Duration, Pressure, Problem, Saturated, SettingError, Share, Volume,
};
use crate::record;

/// The share of its volume that a passive lung has breathed out after a span: 1 − e^(−t/τ); `None`
/// where `tau` is zero. Within one step of 1/65 536 (0.0015 %). One wide divide.
#[must_use]
pub fn exhaled_share(span: Duration, tau: Duration) -> Option<Share> {
    let left = arith::decay_q30(span.to_us(), tau.to_us())?;
    Some(Share::from_bits(arith::ONE.saturating_sub(arith::q30_to_q16(left))))
}

/// The time in which a passive lung's flow falls to a share of its peak: −τ·ln(share).
///
/// Rounded to the microsecond; a share has steps of 1/65 536, which moves the time by up to τ ÷
/// (131 072 × share). τ beyond 35 minutes counts as that. No divide.
///
/// # Errors
/// `fraction` not above zero, or above one.
pub fn flow_cycle_time(tau: Duration, fraction: Share) -> Result<Duration, SettingError> {
    if fraction <= Share::ZERO {
        return Err(SettingError::new("fraction", Problem::NotPositive));
    }
    if fraction > Share::ONE {
        return Err(SettingError::new("fraction", Problem::TooLarge));
    }
    Ok(Duration::from_us(arith::time_to_share(tau.to_us(), fraction.to_bits())))
}

record! {
    /// Whether an expiration lasted long enough to empty the lung.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum Emptying {
        /// Three time constants or more: at least 95 % went out (textbook: 1 − e⁻³ = 0.9502).
        Complete = 0,
        /// Less: gas may be trapped.
        Short {
            /// Share of the volume above rest that is left in, half up.
            left: Share,
        } = 1,
        /// The time constant is zero: not known.
        Unknown = 2,
    }
}

impl Emptying {
    /// Of an expiration of `exp_time` under the time constant of a fit. One wide divide.
    #[must_use]
    pub fn of(exp_time: Duration, tau: Duration) -> Self {
        // Three that overflow are longer than any span.
        let three = tau.to_us().checked_mul(3);
        match arith::decay_q30(exp_time.to_us(), tau.to_us()) {
            None => Self::Unknown,
            Some(_) if three.is_some_and(|three| exp_time.to_us() >= three) => Self::Complete,
            Some(left) => Self::Short { left: Share::from_bits(arith::q30_to_q16(left)) },
        }
    }
}

/// A passive lung of one compartment under square pressure, breath after breath alike.
///
/// With a = e^(−Ti/τ) and b = e^(−Te/τ), of the volume C·ΔP the part (1 − a)·b/(1 − ab) never leaves
/// and (1 − a)(1 − b)/(1 − ab) goes in and out (textbook).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct SteadyState {
    held: u32,
    moved: u32,
}

impl SteadyState {
    /// From inspiratory and expiratory time and the time constant, all above zero. Four wide
    /// divides.
    ///
    /// # Errors
    /// A parameter that is zero; `tau` so long against the times that nothing moves.
    pub fn new(
        insp_time: Duration,
        exp_time: Duration,
        tau: Duration,
    ) -> Result<Self, SettingError> {
        for (name, span) in [("insp_time", insp_time), ("exp_time", exp_time), ("tau", tau)] {
            if span.is_zero() {
                return Err(SettingError::new(name, Problem::NotPositive));
            }
        }
        let decay = |span: Duration| arith::decay_q30(span.to_us(), tau.to_us());
        decay(insp_time)
            .zip(decay(exp_time))
            .and_then(|(a, b)| arith::held_and_moved_q30(a, b))
            .map(|(held, moved)| Self { held, moved })
            .ok_or(SettingError::new("tau", Problem::TooLarge))
    }

    /// Alveolar pressure above the set baseline at the end of expiration (auto-PEEP) for a pressure
    /// rise; within 10⁻⁵ ÷ (1 − ab) of the rise: some 10⁻⁵ where a breath is longer than the time constant, 10⁻³ where
    /// that is a hundred breaths long.
    #[must_use]
    pub const fn auto_peep(&self, rise: Pressure) -> Pressure {
        Pressure::from_bits(arith::share_q30(rise.to_bits(), self.held))
    }

    /// Volume that stays in the lung because of it.
    pub const fn held_volume(&self, rise: Pressure, compliance: Compliance) -> Saturated<Volume> {
        arith_volume(self.held, rise, compliance)
    }

    /// Tidal volume.
    pub const fn tidal_volume(&self, rise: Pressure, compliance: Compliance) -> Saturated<Volume> {
        arith_volume(self.moved, rise, compliance)
    }
}

const fn arith_volume(share: u32, rise: Pressure, compliance: Compliance) -> Saturated<Volume> {
    let full = arith::mul_q16(rise.to_bits(), compliance.to_bits());
    let part = Volume::from_bits(arith::share_q30(full.value, share));
    Saturated { value: part, saturated: full.saturated }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn float(bits: i32) -> f64 {
        f64::from(bits) / 65_536.0
    }

    #[test]
    fn the_exhaled_share_by_time_constants() {
        // 1 − e^−n for 1 to 5 τ (63/86/95/98/99 %: Intensive Care Med Exp 2024, DOI
        // 10.1186/s40635-024-00612-z). Reached: one step, 0.0015 %.
        let tau = Duration::from_millis(200);
        let want = [63.212_1, 86.466_5, 95.021_3, 98.168_4, 99.326_2];
        for (n, want) in (1..).zip(want) {
            let share = exhaled_share(Duration::from_millis(200 * n), tau).unwrap();
            assert!((float(share.to_bits()) * 100.0 - want).abs() < 0.001_6, "{n}: {share}");
        }
        assert_eq!(exhaled_share(Duration::ZERO, tau), Some(Share::ZERO));
        assert_eq!(exhaled_share(Duration::from_us(u64::MAX), tau), Some(Share::ONE));
        assert_eq!(exhaled_share(tau, Duration::ZERO), None);
    }

    #[test]
    fn the_exhaled_share_is_near_everywhere() {
        for tau in [1_u64, 999, 200_000, 30_000_000, u64::MAX / 3] {
            for i in 0..4_000_u64 {
                let span = u64::try_from(u128::from(tau) * u128::from(i) / 300).unwrap_or(u64::MAX);
                let got = exhaled_share(Duration::from_us(span), Duration::from_us(tau)).unwrap();
                let want = 1.0 - (-(span as f64) / tau as f64).exp();
                assert!((float(got.to_bits()) - want).abs() < 1.0 / 65_536.0, "{tau} {span}");
            }
        }
    }

    #[test]
    fn a_short_expiration_is_told() {
        // Textbook 3 τ rule: e^−3 = 0.0498. 0.599 s under τ 0.2 s is 2.995 τ: e^−2.995 = 0.05004.
        let tau = Duration::from_millis(200);
        assert_eq!(Emptying::of(Duration::from_millis(600), tau), Emptying::Complete);
        let Emptying::Short { left } = Emptying::of(Duration::from_millis(599), tau) else {
            panic!()
        };
        assert!((float(left.to_bits()) - 0.050_04).abs() < 2e-5, "{left}");
        assert_eq!(Emptying::of(tau, Duration::ZERO), Emptying::Unknown);
    }

    #[test]
    fn three_time_constants_beyond_the_longest_span_are_never_over() {
        // 2^64 − 1 = 3 × 6 148 914 691 236 517 205: the longest span is just three of them, and less than three of
        // one microsecond more, whose share left is e^−3 too: 0.049 787.
        let (longest, tau) = (Duration::from_us(u64::MAX), u64::MAX / 3);
        assert_eq!(Emptying::of(longest, Duration::from_us(tau)), Emptying::Complete);
        // One time constant of the longest: e^−1 = 0.367 879.
        for (tau, want) in [(tau + 1, 0.049_787), (u64::MAX, 0.367_879)] {
            let emptying = Emptying::of(longest, Duration::from_us(tau));
            let Emptying::Short { left } = emptying else { panic!("{tau}: {emptying:?}") };
            assert!((float(left.to_bits()) - want).abs() < 2e-5, "{tau}: {left:?}, not {want}");
        }
    }

    #[test]
    fn flow_falls_to_a_share_in_its_time() {
        // Textbook −τ·ln(f), τ 0.2 s: 25 % 0.27726 s, 5 % 0.59915 s. Reached: 10^-5 s at
        // 25 %, 2·10^-5 s at 5 %, whose nearest share is 3 277/65 536 = 0.050003.
        let tau = Duration::from_millis(200);
        for (percent, want, near) in [(25, 0.277_26, 1e-5), (5, 0.599_15, 2e-5), (100, 0.0, 1e-6)] {
            let got = flow_cycle_time(tau, Share::from_percent(percent)).unwrap().to_us() as f64;
            assert!((got / 1e6 - want).abs() < near, "{percent}: {got}");
        }
        assert!(flow_cycle_time(tau, Share::ZERO).is_err());
        assert!(flow_cycle_time(tau, Share::from_percent(101)).is_err());
    }

    #[test]
    fn gas_that_stays_makes_pressure() {
        // Textbook: C 2, τ 0.2, ΔP 10, Ti 0.4: Te 0.2 → 6.6952 mL stay, VT 11.5042,
        // 3.3476 cmH2O; Te 0.6 → 0.867 mL, 0.433 cmH2O. Worked here: C 4, R 100 (τ 0.4), Ti 0.35,
        // Te 0.40 → VT 17.42, 2.534 cmH2O. Reached: 1.2·10^-4
        // of the first, the last printed digit of the others.
        let (ms, rise) = (Duration::from_millis, Pressure::from_int(10));
        for (c, tau, ti, te, held, vt, peep, near) in [
            (2, 200, 400, 200, 6.695_2, 11.504_2, 3.347_6, 1.2e-4),
            (2, 200, 400, 600, 0.867, 16.543, 0.433, 1e-3),
            (4, 400, 350, 400, 10.137, 17.42, 2.534, 6e-3),
        ] {
            let cycle = SteadyState::new(ms(ti), ms(te), ms(tau)).unwrap();
            let c = Compliance::from_int(c);
            let got = [
                float(cycle.held_volume(rise, c).within().unwrap().to_bits()),
                float(cycle.tidal_volume(rise, c).within().unwrap().to_bits()),
                float(cycle.auto_peep(rise).to_bits()),
            ];
            for (got, want) in got.into_iter().zip([held, vt, peep]) {
                assert!((got - want).abs() < near, "{got} {want}");
            }
        }
        let wrong = |a, b, c| SteadyState::new(ms(a), ms(b), ms(c)).map_err(|e| e.parameter);
        assert_eq!(wrong(0, 1, 1), Err("insp_time"));
        assert_eq!(wrong(1, 0, 1), Err("exp_time"));
        assert_eq!(wrong(1, 1, 0), Err("tau"));
    }

    #[test]
    fn pressure_control_fills_by_the_time_constant() {
        // Textbook VT = C·ΔP·(1 − e^(−Ti/τ)): 2 × 10 × (1 − e^−2) = 17.293 mL. Expiration
        // of 20 τ empties the lung. Reached: 10^-3 mL.
        let ms = Duration::from_millis;
        let cycle = SteadyState::new(ms(400), ms(4_000), ms(200)).unwrap();
        let got = cycle.tidal_volume(Pressure::from_int(10), Compliance::from_int(2)).value;
        assert!((float(got.to_bits()) - 17.293).abs() < 1e-3, "{got}");
    }
}
