//! Sizes without a sign.

use super::unit::Unit;
use super::{Magnitude, Quantity, Saturated, arith};

impl<U: Unit> Quantity<U> {
    /// How far from zero.
    #[must_use]
    #[inline]
    pub(crate) const fn magnitude(self) -> Magnitude<U> {
        Magnitude::new(self.to_bits().unsigned_abs())
    }

    /// How far from another, either way.
    #[must_use]
    #[inline]
    pub(crate) const fn apart(self, other: Self) -> Magnitude<U> {
        Magnitude::new(self.to_bits().abs_diff(other.to_bits()))
    }

    /// Whether it lies between −`limit` and `limit`, for a limit of at least zero.
    #[must_use]
    #[inline]
    pub(crate) const fn is_within(self, limit: Self) -> bool {
        arith::is_within_span(self.to_bits(), limit.to_bits())
    }

    /// Times one size of another unit over a second one, half away from zero; clamps, and says so. One wide divide.
    pub(crate) const fn scaled<V: Unit>(
        self,
        by: Magnitude<V>,
        under: Magnitude<V>,
    ) -> Saturated<Self> {
        Self::limited(arith::scale_ratio(self.to_bits(), by.0, under.0))
    }

    /// Times two sizes of other units over two more, half away from zero, 2⁻³⁰ relative; clamps, and says so; `None`
    /// where one of the latter is zero. One wide divide.
    #[must_use]
    pub(crate) const fn scaled_twice<V: Unit, W: Unit>(
        self,
        by: (Magnitude<V>, Magnitude<W>),
        under: (Magnitude<V>, Magnitude<W>),
    ) -> Option<Saturated<Self>> {
        let (by, under) = ((by.0.0, by.1.0), (under.0.0, under.1.0));
        match arith::scaled_by_products(self.to_bits(), by, under) {
            Some(scaled) => Some(Self::limited(scaled)),
            None => None,
        }
    }

    /// A hundredth of its magnitude, toward zero.
    #[must_use]
    #[inline]
    pub(crate) const fn hundredth(self) -> Magnitude<U> {
        Magnitude::new(arith::hundredth(self.to_bits()))
    }

    /// With its sign taken off, clamped.
    #[must_use]
    #[inline]
    pub(crate) const fn saturating_abs(self) -> Self {
        Self::from_bits(self.to_bits().saturating_abs())
    }
}

impl<U: Unit> Magnitude<U> {
    /// The largest: not known how far.
    pub(crate) const MAX: Self = Self::new(u32::MAX);

    /// Twice, clamped.
    #[must_use]
    #[inline]
    pub(crate) const fn doubled(self) -> Self {
        Self::new(self.0.saturating_add(self.0))
    }

    /// The root of the sum of squares, toward zero, clamped: independent doubts together.
    #[must_use]
    #[inline]
    pub(crate) fn root_of_squares<const N: usize>(parts: [Self; N]) -> Quantity<U> {
        Quantity::from_bits(arith::root_of_squares(&parts.map(|part| part.0)))
    }
}
