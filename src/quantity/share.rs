//! Shares and plain factors.

use super::Share;
use super::arith;

impl Share {
    /// The whole.
    pub const ONE: Self = Self::from_bits(arith::ONE);

    /// From whole percent; rounded half away from zero. 300 % is a valid factor.
    #[must_use]
    pub const fn from_percent(percent: i16) -> Self {
        // |i16| × 65 536 ÷ 100 < 2^25: cannot clamp
        Self::from_bits(arith::scale_ratio(arith::whole_to_bits(percent), 1, 100).value)
    }

    /// In percent, clamped at ±32 768 %.
    pub(crate) const fn to_percent(self) -> super::Saturated<fixed::types::I16F16> {
        let r = arith::scale_ratio(self.to_bits(), 100, 1);
        super::Saturated { value: fixed::types::I16F16::from_bits(r.value), saturated: r.saturated }
    }
}
