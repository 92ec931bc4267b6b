//! Rates in events per minute.

use super::Quantity;
use super::unit::PerMinute;
use super::{Duration, Mass, Saturated, Volume, arith};
use fixed::types::I16F16;

/// Rate per minute: breaths, inflations or heartbeats.
pub type Rate = Quantity<PerMinute>;

impl Rate {
    /// The rate of one event every `period`; `None` for a zero period. Toward zero; clamps for
    /// periods under 2 ms.
    #[must_use]
    pub(crate) const fn of_period(period: Duration) -> Option<Saturated<Self>> {
        match arith::per_minute(period.to_us()) {
            Some(rate) => Some(Self::limited(rate)),
            None => None,
        }
    }

    /// Events over so many µs, toward zero; `None` for no time. One wide divide.
    #[must_use]
    pub(crate) const fn of_count(count: u16, us: u32) -> Option<Saturated<Self>> {
        match arith::count_a_minute(count, us) {
            Some(rate) => Some(Self::limited(rate)),
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

impl Rate {
    /// For each mL/kg of a tidal volume (its size), half away from zero, 2⁻³⁰ relative; clamps, and says so; `None`
    /// for no volume. One wide divide.
    #[must_use]
    pub(crate) fn for_each_ml_per_kg(self, tidal: Volume, mass: Mass) -> Option<Saturated<I16F16>> {
        let by = (arith::ONE.unsigned_abs(), mass.grams());
        let under = (tidal.to_bits().unsigned_abs(), 1_000);
        Some(arith::scaled_by_products(self.to_bits(), by, under)?.map(I16F16::from_bits))
    }
}

impl Duration {
    /// How many an hour so many events over this time are, toward zero, clamped; `None` for no time.
    #[must_use]
    pub(crate) const fn per_hour(self, count: u32) -> Option<I16F16> {
        match arith::per_hour_q16(count, self.to_us()) {
            Some(rate) => Some(I16F16::from_bits(rate)),
            None => None,
        }
    }
}

impl Volume {
    /// What a minute moves, at so much each time, half up; clamps, and says so.
    pub(crate) const fn at_rate(self, rate: Rate) -> Saturated<Self> {
        Self::limited(arith::mul_q16(self.to_bits(), rate.to_bits()))
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
