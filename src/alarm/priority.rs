//! Priorities and what a lamp does for each.

#[cfg(feature = "embedded-hal")]
use crate::quantity::{Duration, arith};
use crate::record;

record! {
    /// How soon someone must act: the categories of IEC 60601-1-8.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum Priority {
        /// Someone must know.
        Low = 0,
        /// Someone must act soon.
        Medium = 1,
        /// Someone must act at once.
        High = 2,
    }
}

impl Priority {
    /// The priority in words.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Low => "low",
            Self::Medium => "medium",
            Self::High => "high",
        }
    }

    /// All, the most urgent first.
    pub const ALL: [Self; 3] = [Self::High, Self::Medium, Self::Low];
}

/// How a lamp flashes at a priority; in the middle of what IEC 60601-1-8 asks, from memory.
#[cfg(feature = "embedded-hal")]
pub(super) struct Flash {
    period: Duration,
    lit: Duration,
}

#[cfg(feature = "embedded-hal")]
impl Flash {
    /// 500 ms (2 Hz) at high, 1.7 s (0.59 Hz) at medium priority, lit for 40 %; constantly on at low priority.
    pub(super) const fn of(priority: Priority) -> Self {
        let (period, lit) = match priority {
            Priority::High => (500, 200),
            Priority::Medium => (1_700, 680),
            Priority::Low => (1_000, 1_000),
        };
        Self { period: Duration::from_millis(period), lit: Duration::from_millis(lit) }
    }

    /// Whether the lamp is lit this long after the alarm began. One wide divide.
    pub(super) const fn is_lit(&self, elapsed: Duration) -> bool {
        arith::within_period(elapsed.to_us(), self.period.to_us()) < self.lit.to_us()
    }
}

#[cfg(all(test, feature = "embedded-hal"))]
mod tests {
    use super::*;

    #[test]
    fn flashes_lie_in_the_bands_of_the_standard() {
        // IEC 60601-1-8, from memory: 1.4 to 2.8 Hz is 357.1 to 714.3 ms, 0.4 to 0.8 Hz is 1250 to 2500 ms; lit for 20
        // to 60 %. Constantly on at low priority.
        for (priority, least, most) in
            [(Priority::High, 357_143, 714_285), (Priority::Medium, 1_250_000, 2_500_000)]
        {
            let flash = Flash::of(priority);
            let (period, lit) = (flash.period.to_us(), flash.lit.to_us());
            assert!((least..=most).contains(&period), "{priority:?}");
            assert!((20..=60).contains(&(lit * 100 / period)), "{priority:?}");
            let is_lit = |us| flash.is_lit(Duration::from_us(us));
            assert!(is_lit(0) && is_lit(lit - 1) && !is_lit(lit) && !is_lit(period - 1));
            assert!(is_lit(period), "{priority:?}");
        }
        let low = Flash::of(Priority::Low);
        assert!((0..3_000).all(|ms| low.is_lit(Duration::from_millis(ms))));
        assert!(Priority::High > Priority::Medium && Priority::Medium > Priority::Low);
    }
}
