//! Values over time.

use super::product::{Integrates, Times};
use super::unit::Unit;
use super::{Area, Duration, Flow, Quantity, Saturated, Share, Volume, arith};

impl<U: Unit> Quantity<U> {
    /// A steady value over so many µs (below 2³¹).
    #[must_use]
    #[inline]
    pub(crate) const fn over(self, us: u32) -> Area<U> {
        Area::new(arith::trapezoid(self.to_bits(), self.to_bits(), us))
    }

    /// As [`over`](Self::over), for 500 ms at most.
    #[must_use]
    #[inline]
    pub(crate) const fn over_short(self, us: u32) -> Area<U> {
        Area::new(arith::steady(self.to_bits(), us))
    }

    /// A straight line to another over so many µs (below 2³¹).
    #[must_use]
    #[inline]
    pub(crate) const fn ramp(self, to: Self, us: u32) -> Area<U> {
        Area::new(arith::trapezoid(self.to_bits(), to.to_bits(), us))
    }

    /// What of that line lies above a level, less what lies below; µs above 2²⁹ count as that.
    #[must_use]
    #[inline]
    pub(crate) const fn ramp_above(self, to: Self, level: Self, us: u32) -> Area<U> {
        Area::new(arith::trapezoid_over(self.to_bits(), to.to_bits(), level.to_bits(), us))
    }
}

impl<U: Unit> Area<U> {
    /// From raw bits.
    #[cfg(test)]
    pub(crate) const fn of_total(doubled: i64) -> Self {
        Self::new(doubled)
    }

    /// Raw bits.
    #[cfg(test)]
    pub(crate) const fn total(self) -> i64 {
        self.0
    }

    /// Sum of running totals, which wrap.
    #[must_use]
    #[inline]
    pub(crate) const fn wrapping_add(self, more: Self) -> Self {
        Self::new(self.0.wrapping_add(more.0))
    }

    /// Difference of running totals, which undoes that they wrapped.
    #[must_use]
    #[inline]
    pub(crate) const fn wrapping_sub(self, less: Self) -> Self {
        Self::new(self.0.wrapping_sub(less.0))
    }

    /// Sum, clamped; says so.
    #[inline]
    pub(crate) const fn plus(self, more: Self) -> Saturated<Self> {
        let sum = arith::accumulate(self.0, more.0);
        Saturated { value: Self::new(sum.value), saturated: sum.saturated }
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

    /// One part in 2^`shift`, toward negative infinity.
    #[must_use]
    #[inline]
    pub(crate) const fn fraction(self, shift: u32) -> Self {
        Self::new(arith::fraction(self.0, shift))
    }

    /// Adds one part in 2^`shift` of more, clamped.
    #[inline]
    pub(crate) const fn add_part(&mut self, more: &Self, shift: u32) {
        arith::add_part(&mut self.0, &more.0, shift);
    }

    /// Leaves seven eighths.
    #[inline]
    pub(crate) const fn fade(&mut self) {
        arith::fade(&mut self.0);
    }

    /// With its sign taken off, clamped.
    #[must_use]
    #[inline]
    pub(crate) const fn saturating_abs(self) -> Self {
        Self::new(self.0.saturating_abs())
    }

    /// Whether it lies nearer to nothing than another.
    #[must_use]
    #[inline]
    pub(crate) const fn is_smaller_than(self, other: Self) -> bool {
        self.0.unsigned_abs() < other.0.unsigned_abs()
    }

    /// A first-order lag, as [`Quantity::lowpass`].
    #[must_use]
    pub(crate) const fn lowpass(self, to: Self, times: u32) -> Self {
        Self::new(arith::lowpass_wide(self.0, to.0, times))
    }

    /// As a share of another, rounded toward zero; `None` where `whole` is zero. One wide divide.
    #[must_use]
    pub(crate) const fn share_of(self, whole: Self) -> Option<Saturated<Share>> {
        Share::of_raw(self.0, whole.0)
    }

    /// The mean value over a time, toward zero; `None` for no time. One wide divide.
    #[must_use]
    pub(crate) const fn mean(self, us: u64) -> Option<Saturated<Quantity<U>>> {
        match arith::mean_q16(self.0, us) {
            Some(mean) => Some(Quantity::limited(mean)),
            None => None,
        }
    }

    /// Times a steady factor of another unit; clamps, and says so.
    pub(crate) const fn by<V: Times<U>>(self, factor: Quantity<V>) -> Saturated<Area<V::Product>> {
        let area = arith::mul_wide(self.0, factor.to_bits());
        Saturated { value: Area::new(area.value), saturated: area.saturated }
    }
}

impl<U: Integrates> Area<U> {
    /// Of unit × seconds; exact.
    #[must_use]
    pub(crate) const fn of_seconds(whole: Quantity<U::Integral>) -> Self {
        Self::new(arith::q16_to_area(whole.to_bits()))
    }

    /// Of unit × seconds with 12 fraction bits; exact.
    #[must_use]
    #[inline]
    pub(crate) const fn of_coarse(whole: i32) -> Self {
        Self::new(arith::q12_to_area(whole))
    }

    /// In unit × seconds with 12 fraction bits, clamped at ±3 000, and says so; 10⁻⁹ relative. No divide.
    #[inline]
    pub(crate) const fn coarse(self) -> Saturated<i32> {
        arith::area_to_q12(self.0)
    }

    /// In unit × seconds, half away from zero; clamps, and says so.
    pub(crate) const fn in_seconds(self) -> Saturated<Quantity<U::Integral>> {
        Quantity::limited(arith::area_to_q16(self.0))
    }
}

impl Volume {
    /// The flow that moves it within a second.
    #[must_use]
    #[inline]
    pub(crate) const fn each_second(self) -> Flow {
        Flow::from_bits(self.to_bits())
    }
}

impl Duration {
    /// The share of a volume that a lung of the time constant `tau` still holds after so long: e^(−t ÷ τ), half
    /// up; `None` where `tau` is zero. One wide divide.
    #[must_use]
    pub(crate) fn share_left(self, tau: Self) -> Option<Share> {
        let left = arith::decay_q30(self.to_us(), tau.to_us())?;
        Some(Share::from_bits(arith::q30_to_q16(left)))
    }

    /// The part of it that is such a share, 0 to 1, toward zero; of 35.8 minutes at most.
    #[must_use]
    #[inline]
    pub(crate) const fn short_part(self, share: Share) -> Self {
        let part = arith::portion_u32(self.to_short_us().value, share.to_bits());
        Self::from_us(arith::widen_u32(part))
    }

    /// As a part of a time constant, of which one over it in 2⁻³² per µs is given; clamps.
    #[must_use]
    #[inline]
    pub(crate) const fn part_of_tau(self, inverse_tau: u32) -> Share {
        Share::from_bits(arith::part_of_tau(self.to_short_us().value, inverse_tau))
    }

    /// As a share of a longer one, toward zero; all of it where that is not longer. A 32-bit divide below 65 ms.
    #[must_use]
    #[inline]
    pub(crate) const fn short_share_of(self, whole: Self) -> Share {
        Share::from_bits(arith::short_share_q16(self.to_us(), whole.to_us()))
    }
}
