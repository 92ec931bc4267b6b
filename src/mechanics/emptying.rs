//! How far a lung of one time constant empties.

use crate::quantity::{Duration, Share};
use crate::record;

/// The share of its volume that a passive lung has breathed out after a span: 1 − e^(−t/τ); `None`
/// where `tau` is zero. Within one step of 1/65 536 (0.0015 %). One wide divide.
#[must_use]
pub fn exhaled_share(span: Duration, tau: Duration) -> Option<Share> {
    Some(Share::ONE.saturating_sub(span.share_left(tau)?).value)
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
    pub(crate) fn of(exp_time: Duration, tau: Duration) -> Self {
        // Three that overflow are longer than any span.
        let three = tau.to_us().checked_mul(3);
        match exp_time.share_left(tau) {
            None => Self::Unknown,
            Some(_) if three.is_some_and(|three| exp_time.to_us() >= three) => Self::Complete,
            Some(left) => Self::Short { left },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_exhaled_share_by_time_constants() {
        // 1 − e^−n for 1 to 5 τ (63/86/95/98/99 %: Intensive Care Med Exp 2024, DOI
        // 10.1186/s40635-024-00612-z). Reached: one step, 0.0015 %.
        let tau = Duration::from_millis(200);
        let want = [63.212_1, 86.466_5, 95.021_3, 98.168_4, 99.326_2];
        for (n, want) in (1..).zip(want) {
            let share = exhaled_share(Duration::from_millis(200 * n), tau).unwrap();
            assert!((share.to_f64() * 100.0 - want).abs() < 0.001_6, "{n}: {share}");
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
                assert!((got.to_f64() - want).abs() < 1.0 / 65_536.0, "{tau} {span}");
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
        assert!((left.to_f64() - 0.050_04).abs() < 2e-5, "{left}");
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
            assert!((left.to_f64() - want).abs() < 2e-5, "{tau}: {left:?}, not {want}");
        }
    }
}
