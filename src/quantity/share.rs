//! Shares and plain factors.

use super::{Saturated, Share, arith};

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
