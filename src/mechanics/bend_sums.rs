//! Sums of the square of the volume, for a curve that bends.

use crate::quantity::arith;
use crate::record;

record! {
    #[const_default]
    /// Sums of V² and its products, beside those of [`FitSums`](super::FitSums).
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct BendSums {
        pub(super) u: i64,
        pub(super) uu: i64,
        pub(super) uv: i64,
        pub(super) uq: i64,
        pub(super) up: i64,
        /// Largest volume, 12 fraction bits.
        pub(super) top: i32,
        pub(super) beyond: bool,
    }
}

/// 181 mL: its square has 23 bits with 8 of them fraction.
const MOST_VOLUME: u32 = 181 << 12;

impl BendSums {
    /// Takes a point that the other sums took: V and Q with 12 fraction bits, P with 15. 60 000 points
    /// of at most 2²³ × 2²³·⁶ stay below 2⁶³.
    pub(super) fn put(&mut self, v: i32, q: i32, p: i32) {
        if v.unsigned_abs() > MOST_VOLUME {
            self.beyond = true;
            return;
        }
        let u = arith::square_q8(v);
        for (sum, other) in
            [(&mut self.uu, u), (&mut self.uv, v), (&mut self.uq, q), (&mut self.up, p)]
        {
            *sum = sum.saturating_add(arith::product(u, other));
        }
        self.u = self.u.saturating_add(arith::widen(u));
        self.top = self.top.max(v);
    }
}
