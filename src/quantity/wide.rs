//! Sums of quantities and their spread.

use super::unit::Unit;
use super::{Quantity, Saturated, Share, Squares, Sum, Wide, arith};

impl<U: Unit> Quantity<U> {
    /// As the beginning of a sum.
    #[must_use]
    #[inline]
    pub(crate) const fn widened(self) -> Wide<U> {
        Wide::new(arith::widen(self.to_bits()))
    }

    /// How far another stands above this one: does not clamp.
    #[must_use]
    #[inline]
    pub(crate) const fn away(self, to: Self) -> Wide<U> {
        Wide::new(arith::away(self.to_bits(), to.to_bits()))
    }

    /// So many times: does not clamp.
    #[must_use]
    #[inline]
    pub(crate) const fn multiplied(self, times: i32) -> Wide<U> {
        Wide::new(arith::product(self.to_bits(), times))
    }
}

impl<U: Unit> Wide<U> {
    /// Adds to a sum whose count of values keeps it in range.
    #[inline]
    pub(crate) const fn put(&mut self, more: Self) {
        self.0 = arith::add_bounded(self.0, more.0);
    }

    /// Adds, clamped.
    #[must_use]
    #[inline]
    pub(crate) const fn saturating_add(self, more: Self) -> Self {
        Self::new(arith::accumulate(self.0, more.0).value)
    }

    /// Takes off, clamped.
    #[must_use]
    #[inline]
    pub(crate) const fn saturating_sub(self, less: Self) -> Self {
        Self::new(self.0.saturating_sub(less.0))
    }

    /// Mean of so many values, toward zero; zero for none.
    #[must_use]
    pub(crate) const fn mean(self, count: u32) -> Quantity<U> {
        Quantity::from_bits(arith::mean_of(self.0, count))
    }

    /// That with 12 fraction bits. One 32-bit divide.
    #[must_use]
    pub(crate) const fn coarse_mean(self, count: u32) -> i32 {
        arith::block_mean(self.0, count)
    }

    /// Whether [the mean](Self::mean) lies between −`limit` and `limit`. No divide.
    #[must_use]
    pub(crate) const fn mean_is_within(self, count: u32, limit: Quantity<U>) -> bool {
        let low = Quantity::<U>::ZERO.saturating_sub(limit).value;
        arith::mean_is_within(self.0, count, low.to_bits(), limit.to_bits())
    }

    /// As a share of another, rounded toward zero; `None` where `whole` is zero. One wide divide.
    #[must_use]
    pub(crate) const fn share_of(self, whole: Self) -> Option<Saturated<Share>> {
        Share::of_raw(self.0, whole.0)
    }

    /// Its square.
    #[must_use]
    #[inline]
    pub(crate) const fn squared(self) -> Squares<U> {
        Squares::new(arith::square_apart(self.0))
    }
}

impl<U: Unit> Sum<U> {
    /// Adds a value, half up, clamped at ±8.3 million.
    #[inline]
    pub(crate) const fn put(&mut self, more: Quantity<U>) {
        self.0 = arith::add_q8(self.0, more.to_bits());
    }

    /// Sum, clamped.
    #[must_use]
    #[inline]
    pub(crate) const fn saturating_add(self, more: Self) -> Self {
        Self::new(self.0.saturating_add(more.0))
    }

    /// Difference, clamped.
    #[must_use]
    #[inline]
    pub(crate) const fn saturating_sub(self, less: Self) -> Self {
        Self::new(self.0.saturating_sub(less.0))
    }

    /// Mean of so many values, toward zero; `None` for none. One wide divide.
    #[must_use]
    pub(crate) const fn mean(self, count: u16) -> Option<Saturated<Quantity<U>>> {
        match arith::mean_q8(self.0, count) {
            Some(mean) => Some(Quantity::limited(mean)),
            None => None,
        }
    }

    /// As a share of another, rounded toward zero; `None` where `whole` is zero. One wide divide.
    #[must_use]
    pub(crate) const fn share_of(self, whole: Self) -> Option<Saturated<Share>> {
        Share::of_raw(arith::widen(self.0), arith::widen(whole.0))
    }
}

impl<U: Unit> Squares<U> {
    /// Sum, clamped.
    #[must_use]
    #[inline]
    pub(crate) const fn saturating_add(self, more: Self) -> Self {
        Self::new(self.0.saturating_add(more.0))
    }

    /// The sum and the squares of `count` values that all become `by` larger: Σ(x + d)² = Σx² + 2dΣx + nd².
    #[must_use]
    pub(crate) const fn moved(self, count: u32, sum: Wide<U>, by: Wide<U>) -> (Wide<U>, Self) {
        let (sum, squares) = arith::moved_squares(count, sum.0, self.0, by.0);
        (Wide::new(sum), Self::new(squares))
    }

    /// Standard deviation of `count` values of this sum.
    #[must_use]
    pub(crate) const fn spread(self, count: u32, sum: Wide<U>) -> Quantity<U> {
        Quantity::from_bits(arith::spread_q16(count, sum.0, self.0))
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Magnitude, Rate, Volume};
    use super::*;

    #[test]
    fn a_sum_keeps_eight_fraction_bits_and_clamps() {
        // 1.5 + 2.5 mL, and a step of 1/65 536, which is less than half of 1/256: 4 mL.
        let mut sum = Sum::ZERO;
        for volume in [Volume::milli::<1_500>(), Volume::milli::<2_500>(), Volume::STEP] {
            sum.put(volume);
        }
        assert_eq!(sum.mean(2), Some(Saturated::exact(Volume::from_int(2))));
        // 4 ÷ 3 = 1.333 33: 87 381.3 steps.
        assert_eq!(sum.mean(3), Some(Saturated::exact(Volume::from_bits(87_381))));
        assert_eq!((sum.mean(0), sum.share_of(Sum::ZERO)), (None, None));
        assert_eq!(
            sum.share_of(sum.saturating_add(sum)),
            Some(Saturated::exact(Share::from_percent(50)))
        );
        // 300 times 32 768 mL are more than 8.3 million: at the end it stays, and a mean of one is no volume.
        (0..300).for_each(|_| sum.put(Volume::MAX));
        assert_eq!(sum, sum.saturating_add(sum));
        assert!(sum.mean(1).is_some_and(|mean| mean.saturated));
    }

    #[test]
    fn a_volume_is_scaled_by_sizes() {
        // 200 mL × 20 ÷ 40 = 100, × 12 ÷ 15 = 80, with the sign of the volume alone; 5 mL at 40 a minute are 200.
        let (rate, rise) = (|n| Rate::from_int(n).magnitude(), |n| Volume::from_int(n).magnitude());
        let less = Volume::from_int(-200);
        assert_eq!(less.scaled(rate(20), rate(-40)), Saturated::exact(Volume::from_int(-100)));
        let twice = |under| less.scaled_twice((rate(20), rise(-12)), (rate(40), under));
        assert_eq!(twice(rise(15)), Some(Saturated::exact(Volume::from_int(-80))));
        assert_eq!(twice(Magnitude::ZERO), None);
        let minute = Volume::from_int(5).at_rate(Rate::from_int(40));
        assert_eq!(minute, Saturated::exact(Volume::from_int(200)));
    }
}
