//! Pressure by the equation of motion over blocks.

use super::{Pressure, Volume, arith};

impl Volume {
    /// The terms to begin with, and how much each is held to, where a breath usually moves this volume at such a rise.
    #[must_use]
    pub(crate) const fn motion_prior(self, rise: Pressure) -> (arith::MotionTerms, [i64; 3]) {
        arith::motion_prior(self.to_bits(), rise.to_bits())
    }
}

impl Pressure {
    /// What such terms leave over of a block, which is the muscle's.
    #[must_use]
    #[inline(always)]
    pub(crate) const fn motion_left(terms: arith::MotionTerms, point: [i32; 4]) -> Self {
        Self::from_bits(arith::motion_left(terms, point))
    }
}
