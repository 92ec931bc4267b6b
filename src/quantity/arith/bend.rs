//! Curved elastance.
//!
//! | operation | operands | result | rounding | overflow |
//! |---|---|---|---|---|
//! | [`square_q8`] | Q12 | Q8 | half up | cannot, to 181 |
//! | [`finer`] | shift | more fraction bits | exact | clamps |
//! | [`sum_of_three`] | `i64` × `i64` | `i128` | exact | clamps |
//! | [`bend_share`] | Q16 | Q16 | half away from zero, 2⁻³⁰ relative | clamps, reported; `None` where the sum is not above zero |
//! | [`c20_of_bend`] | Q16 | Q16 | 4·10⁻⁴ absolute | `None` at −1 and below |

use super::{ONE, Saturated, clamp, quotient, ratio_q16, root_q16};

/// Square of a value with 12 fraction bits (at most 181) with 8 fraction bits.
#[must_use]
pub(crate) const fn square_q8(value_q12: i32) -> i32 {
    // 2^31 squared, plus half a step, fits
    clamp((value_q12 as i64 * value_q12 as i64 + (1 << 15)) >> 16).value
}

/// With up to 16 more fraction bits.
#[must_use]
pub(crate) const fn finer(bits: i32, shift: u32) -> i32 {
    let shift = if shift > 16 { 16 } else { shift };
    clamp((bits as i64) << shift).value
}

/// Sum of three products.
#[must_use]
#[inline(never)]
pub(crate) const fn sum_of_three(a: [i64; 3], b: [i64; 3]) -> i128 {
    let ([a0, a1, a2], [b0, b1, b2]) = (a, b);
    (a0 as i128 * b0 as i128)
        .saturating_add(a1 as i128 * b1 as i128)
        .saturating_add(a2 as i128 * b2 as i128)
}

/// E2·V ÷ (E1 + E2·V) for E1 in cmH2O/mL, E2 in cmH2O/(mL·L) and V in mL.
#[must_use]
pub(crate) const fn bend_share(first: i32, second: i32, volume: i32) -> Option<Saturated<i32>> {
    let bent = second as i128 * volume as i128; // Q32, thousandths
    let whole = first as i128 * (1_000 << 16) + bent; // 2^57 + 2^62
    if whole <= 0 { None } else { quotient(bent, whole, 1, 16) }
}

/// C20/C of P = E1·V + E2·V², from e = E2·VT ÷ (E1 + E2·VT): the volume at 0.8 of the pressure is
/// x·VT with (1 − e)·x + e·x² = 0.8, so x = 1.6 ÷ (1 − e + √((1 − e)² + 3.2·e)), and C20/C is
/// 5·(1 − x). The curve rises to its end for e above −1 only. One wide divide.
#[must_use]
pub(crate) fn c20_of_bend(share: i32) -> Option<i32> {
    const EIGHT: i64 = 8 << 16;
    if share <= -ONE || share as i64 > EIGHT {
        return None;
    }
    let rest = ONE as i64 - share as i64; // below 2^20
    let inside = ((rest * rest) >> 16) + (share as i64 * 16) / 5;
    let below = rest + root_q16(clamp(inside).value) as i64;
    let x = ratio_q16((ONE as i64 * 8) / 5, below)?;
    Some(clamp(5 * (ONE as i64 - x.value as i64)).value)
}
