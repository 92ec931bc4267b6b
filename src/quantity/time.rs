//! Time: wrapping ticks at the door, moments that never wrap inside.

use super::{Saturated, Share, arith};
use crate::record;
use core::fmt;

record! {
    #[const_default]
    /// A free-running microsecond counter as the hardware gives it; wraps after 71.6 minutes.
    ///
    /// It has no `Ord`, since order on a wrapping counter is not transitive.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct Tick(u32);
}

impl Tick {
    /// From the counter's reading.
    #[must_use]
    pub const fn from_us(us: u32) -> Self {
        Self(us)
    }

    /// The counter's reading.
    #[must_use]
    pub const fn to_us(self) -> u32 {
        self.0
    }

    /// Whether this tick lies after `earlier`, taking the shorter way round; false when equal or
    /// exactly half a turn apart.
    #[must_use]
    pub(crate) const fn is_after(self, earlier: Self) -> bool {
        let ahead = self.0.wrapping_sub(earlier.0);
        ahead != 0 && ahead <= u32::MAX.wrapping_sub(i32::MIN.unsigned_abs())
    }

    /// Microseconds from `earlier` to here, going forward round the counter.
    #[must_use]
    pub(crate) const fn us_since(self, earlier: Self) -> u32 {
        self.0.wrapping_sub(earlier.0)
    }
}

record! {
    #[const_default]
    /// A point in time that does not wrap: microseconds on the recording's own clock.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub struct Instant(u64);
}

impl Instant {
    /// From microseconds.
    #[must_use]
    pub const fn from_us(us: u64) -> Self {
        Self(us)
    }

    /// Microseconds.
    #[must_use]
    pub const fn to_us(self) -> u64 {
        self.0
    }

    /// The span from `earlier` to here; zero where `earlier` is later.
    #[must_use]
    pub const fn since(self, earlier: Self) -> Duration {
        Duration::from_us(self.0.saturating_sub(earlier.0))
    }

    /// This moment and a span later; clamps after 584 000 years.
    #[must_use]
    pub const fn after(self, span: Duration) -> Self {
        Self(self.0.saturating_add(span.to_us()))
    }

    /// So long before, not before zero.
    pub(crate) const fn before(self, span: Duration) -> Self {
        Self(self.0.saturating_sub(span.0))
    }
}

record! {
    #[const_default]
    /// A length of time in microseconds.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub struct Duration(u64);
}

impl Duration {
    /// No time.
    pub const ZERO: Self = Self(0);

    /// From microseconds.
    #[must_use]
    pub const fn from_us(us: u64) -> Self {
        Self(us)
    }

    /// From milliseconds.
    #[must_use]
    pub const fn from_millis(millis: u32) -> Self {
        Self(arith::millis_to_us(millis))
    }

    /// Microseconds.
    #[must_use]
    pub const fn to_us(self) -> u64 {
        self.0
    }

    /// Microseconds, clamped to 35.8 minutes, the longest that the per-sample arithmetic takes.
    pub(crate) const fn to_short_us(self) -> Saturated<u32> {
        arith::short_us(self.0)
    }

    /// Sum; clamps.
    #[must_use]
    pub const fn saturating_add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }

    /// Difference; zero where `other` is longer.
    #[must_use]
    pub const fn saturating_sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }

    /// This span as a multiple of another, exact for any two and rounded toward zero; clamps below 32 768. `None`
    /// where either is zero. One wide divide, two above nine years.
    #[must_use]
    pub(crate) const fn ratio(self, other: Self) -> Option<Saturated<Share>> {
        match arith::span_ratio_q16(self.0, other.0) {
            Some(ratio) => Some(Share::limited(ratio)),
            None => None,
        }
    }

    /// A twentieth, toward zero: the slack that a timer is given. One wide divide.
    #[must_use]
    pub(crate) const fn twentieth(self) -> Self {
        Self(arith::twentieth_u64(self.0))
    }

    /// Whether no time passed.
    #[must_use]
    pub(crate) const fn is_zero(self) -> bool {
        self.0 == 0
    }
}

impl fmt::Display for Duration {
    /// Seconds with three decimals.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (seconds, millis) = arith::seconds_and_millis(self.0);
        write!(f, "{seconds}.{millis:03} s")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::string::ToString;

    #[test]
    fn ticks_wrap() {
        let before = Tick::from_us(u32::MAX - 9);
        let after = Tick::from_us(10);
        assert!(after.is_after(before));
        assert!(!before.is_after(after));
        assert!(!before.is_after(before));
        assert_eq!(after.us_since(before), 20); // 10 to the wrap, 10 beyond
        // exactly half a turn: neither is after the other
        assert!(!Tick::from_us(1 << 31).is_after(Tick::from_us(0)));
        assert!(!Tick::from_us(0).is_after(Tick::from_us(1 << 31)));
    }

    #[test]
    fn a_ratio_is_exact_for_the_longest_spans() {
        let ratio = |a, b| {
            let ratio = Duration::from_us(a).ratio(Duration::from_us(b)).unwrap();
            (ratio.value.to_bits(), ratio.saturated)
        };
        // 2⁶² of 140 739 635 871 745 µs is 32 767.499 999 999 88: 2 147 450 879.99 steps.
        assert_eq!(ratio(1 << 62, 140_739_635_871_745), (2_147_450_879, false));
        // 2⁶² of 2⁴⁷ + 2¹⁴: 32 768 × (1 − 2⁻³³), 0.25 of a step below what is beyond.
        assert_eq!(ratio(1 << 62, (1 << 47) + (1 << 14)), (i32::MAX, false));
        // Beyond 2⁶³: one more than half is more than half.
        assert_eq!(ratio(u64::MAX, u64::MAX), (65_536, false));
        assert_eq!(ratio(1 << 63, u64::MAX), (32_768, false));
        assert_eq!(ratio((1 << 63) - 1, u64::MAX), (32_767, false));
        // What is beyond is clamped and said to be: 32 768 times as long, and 2⁶² of 2⁴⁷ just so.
        assert_eq!(ratio(32_768, 1), (i32::MAX, true));
        assert_eq!(ratio(1 << 62, 1 << 47), (i32::MAX, true));
        assert_eq!(Duration::ZERO.ratio(Duration::from_us(1)), None);
        assert_eq!(Duration::from_us(1).ratio(Duration::ZERO), None);
    }

    #[test]
    fn spans_never_go_below_zero() {
        let (a, b) = (Instant::from_us(5), Instant::from_us(9));
        assert_eq!(b.since(a), Duration::from_us(4));
        assert_eq!(a.since(b), Duration::ZERO);
        assert_eq!(a.after(Duration::from_us(4)), b);
        assert!(Duration::from_us(1 << 31).to_short_us().saturated);
        assert_eq!(Duration::from_us((1 << 31) - 1).to_short_us().within(), Some(u32::MAX >> 1));
        assert_eq!(Duration::from_us(1_363_636).to_string(), "1.363 s");
    }
}
