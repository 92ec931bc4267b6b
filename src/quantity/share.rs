//! Shares and plain factors.

use super::unit::Unit;
use super::{Quantity, Saturated, Share, arith};

impl Share {
    /// The whole.
    pub const ONE: Self = Self::from_bits(arith::ONE);

    /// From whole percent; rounded half away from zero. 300 % is a valid factor.
    #[must_use]
    pub const fn from_percent(percent: i16) -> Self {
        // |i16| × 65 536 ÷ 100 < 2^25: cannot clamp
        Self::from_bits(arith::scale_ratio(arith::whole_to_bits(percent), 1, 100).value)
    }

    /// A ratio of raw numbers of one unit and format, toward zero; `None` where the denominator is zero.
    pub(super) const fn of_raw(numerator: i64, denominator: i64) -> Option<Saturated<Self>> {
        match arith::ratio_q16(numerator, denominator) {
            Some(ratio) => Some(Self::limited(ratio)),
            None => None,
        }
    }

    /// A count as a share of another (both below 2⁴⁶), toward zero; `None` where there is nothing to share. One wide
    /// divide.
    #[must_use]
    pub(crate) const fn of_counts(part: u64, whole: u64) -> Option<Self> {
        match arith::count_share(part, whole) {
            Some(share) => Some(Self::from_bits(share)),
            None => None,
        }
    }

    /// Its natural logarithm, within one step; `None` where it is not above zero.
    #[must_use]
    pub(crate) fn ln(self) -> Option<Self> {
        arith::ln_q16(self.to_bits()).map(Self::from_bits)
    }

    /// How far along a straight line from one number to another of its unit the line is at zero.
    #[must_use]
    pub(crate) const fn of_crossing(from: i32, to: i32) -> Self {
        Self::from_bits(arith::crossing(from, to, 0))
    }

    /// What is explained of a whole, both sums of products, the whole at most; `None` where that is zero.
    #[must_use]
    pub(crate) fn explained(part: i128, whole: i128) -> Option<Self> {
        Some(Self::of_quotient(part, whole, 1, 16)?.value.min(Self::ONE))
    }

    /// C20/C of an elastic curve that bends by this share; `None` where it does not rise to its end.
    #[must_use]
    pub(crate) fn c20_of_bend(self) -> Option<Self> {
        arith::c20_of_bend(self.to_bits()).map(Self::from_bits)
    }

    /// In percent, clamped at ±32 768 %.
    pub(crate) const fn to_percent(self) -> Saturated<fixed::types::I16F16> {
        let r = arith::scale_ratio(self.to_bits(), 100, 1);
        Saturated { value: fixed::types::I16F16::from_bits(r.value), saturated: r.saturated }
    }
}

impl<U: Unit> Quantity<U> {
    /// So many ten-thousandths of it, half away from zero. One wide divide.
    #[must_use]
    pub(crate) const fn parts(self, parts: u16) -> Self {
        Self::from_bits(arith::parts_of(self.to_bits(), parts))
    }

    /// How many ten-thousandths of `whole` it is, to the nearest; `None` where either is not above zero or there
    /// are more than `u16` holds. One wide divide.
    #[must_use]
    pub(crate) const fn parts_of(self, whole: Self) -> Option<u16> {
        arith::parts_in(self.to_bits(), whole.to_bits())
    }

    /// The nearest multiple of a step in thousandths, half up; one step of 1/65 536 short of half goes up, too. Clamps,
    /// and says so. Two wide divides.
    pub(crate) const fn on_grid(self, step_milli: u16) -> Saturated<Self> {
        Self::limited(arith::on_grid(self.to_bits(), step_milli))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_logarithm_is_close_everywhere() {
        for bits in (1..=2_000_000).step_by(997).chain([i32::MAX, 65_536]) {
            let share = Share::from_bits(bits);
            let (got, exact) = (share.ln().unwrap().to_f64(), share.to_f64().ln());
            assert!((got - exact).abs() < 2.0 / 65_536.0, "{bits}: {got} {exact}");
        }
        assert_eq!(Share::ZERO.ln(), None);
    }
}
