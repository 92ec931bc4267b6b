//! Rates in events per minute.

use super::Quantity;
use super::unit::PerMinute;
use super::{Duration, Saturated, arith};

/// Rate per minute: breaths, inflations or heartbeats.
pub type Rate = Quantity<PerMinute>;

impl Rate {
    /// The rate of one event every `period`; `None` for a zero period. Toward zero; clamps for
    /// periods under 2 ms.
    #[must_use]
    pub(crate) const fn of_period(period: Duration) -> Option<Saturated<Self>> {
        match arith::per_minute(period.to_us()) {
            Some(r) => Some(Saturated { value: Self::from_bits(r.value), saturated: r.saturated }),
            None => None,
        }
    }

    /// The time from one event to the next; `None` for zero or negative rates.
    #[must_use]
    pub(crate) const fn period(self) -> Option<Duration> {
        if self.to_bits() <= 0 {
            None
        } else {
            Some(Duration::from_us(arith::minute_over(self.to_bits())))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn forty_four_a_minute_leave_1_364_s_a_breath() {
        // Common practice, no source: 60 ÷ 44 = 1.3636… s.
        let period = Rate::from_int(44).period();
        assert_eq!(period, Some(Duration::from_us(1_363_636)));
        let back = period.and_then(Rate::of_period).map(|r| r.value.to_bits());
        assert!(back.is_some_and(|b| (b - (44 << 16)).abs() <= 3), "{back:?}");
    }

    #[test]
    fn no_period_no_rate() {
        assert_eq!(Rate::of_period(Duration::ZERO), None);
        assert_eq!(Rate::ZERO.period(), None);
        assert_eq!(Rate::from_int(-5).period(), None);
        assert!(Rate::of_period(Duration::from_us(1)).is_some_and(|r| r.saturated));
    }
}
