//! Squares and spreads of samples.
//!
//! | operation | operands | result | rounding | overflow |
//! |---|---|---|---|---|
//! | [`spread_q16`] | count, Σ, Σ² | Q16 | Σ² keeps 8 fraction bits each | clamps |
//! | [`square_apart`] | wide Q16 | Q16 at 8 bits, squared | as [`square_q16`] | cannot below 2³² |

use super::{clamp, isqrt};

/// Square of a Q16 value kept at 8 fraction bits each, for spreads: up to 2⁴⁶.
#[must_use]
pub(crate) const fn square_q16(bits: i32) -> u64 {
    square_apart(bits as i64)
}

/// Square of a distance of two values, kept at 8 fraction bits each.
#[must_use]
#[inline]
pub(crate) const fn square_apart(apart: i64) -> u64 {
    let coarse = (apart >> 8).unsigned_abs();
    coarse.wrapping_mul(coarse)
}

/// Spread (standard deviation) in Q16 from a count, a sum of Q16 and a sum of [`square_q16`].
#[must_use]
pub(crate) const fn spread_q16(count: u32, sum: i64, squares: u64) -> i32 {
    if count == 0 {
        return 0;
    }
    let mean = sum / count as i64;
    let mean_square = square_q16(clamp(mean).value);
    let variance = (squares / count as u64).saturating_sub(mean_square);
    // Q16 variance → Q8 root → Q16. The root of a u64 is below 2^32, × 2^8 is clamped.
    let root = isqrt(variance) << 8;
    if root > i32::MAX as u64 { i32::MAX } else { root as i32 }
}

/// A sum and a sum of [`square_q16`] with `by` added to each of `count` values; never below zero.
#[must_use]
pub(crate) const fn moved_squares(count: u32, sum: i64, squares: u64, by: i64) -> (i64, u64) {
    let coarse = by >> 8;
    let cross = (sum >> 8).saturating_mul(2).saturating_mul(coarse);
    let own = coarse.saturating_mul(coarse).saturating_mul(count as i64);
    let total = (squares as i64).saturating_add(cross).saturating_add(own);
    let moved = sum.saturating_add(by.saturating_mul(count as i64));
    (moved, if total < 0 { 0 } else { total as u64 })
}
