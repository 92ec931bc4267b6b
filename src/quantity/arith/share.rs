//! Parts of a whole, steps of a grid, and ratios of products.

use super::{Saturated, clamp, divide_rounded, quotient};

/// Steps of 1/10 000 in the whole.
pub(crate) const WHOLE_PARTS: u16 = 10_000;

/// Percent in ten-thousandths; 255 × 100 fits.
#[must_use]
pub(crate) const fn percent_parts(percent: u8) -> u16 {
    percent as u16 * 100
}

/// `parts` ten-thousandths of a value, half away from zero; at most the whole cannot clamp.
#[must_use]
pub(crate) const fn parts_of(value: i32, parts: u16) -> i32 {
    // 2^31 × 2^16 fits
    clamp(divide_rounded(value as i64 * parts as i64, WHOLE_PARTS as u32)).value
}

/// How many ten-thousandths of `whole` (above zero) `part` is, to the nearest; `None` where either
/// is not above zero or there are more than `u16` holds.
#[must_use]
pub(crate) const fn parts_in(part: i32, whole: i32) -> Option<u16> {
    if part <= 0 || whole <= 0 {
        return None;
    }
    // 2^31 × 2^14 fits
    let parts = divide_rounded(part as i64 * WHOLE_PARTS as i64, whole.unsigned_abs());
    if parts > u16::MAX as i64 { None } else { Some(parts as u16) }
}

/// The multiple of a step (in thousandths of the unit, above zero) nearest to a value, half up. A
/// value one part in 65 536 below the middle of two multiples counts as in the middle, since most
/// decimal fractions have lost that much. Two wide divides.
pub(crate) const fn on_grid(bits: i32, step_milli: u16) -> Saturated<i32> {
    let step = if step_milli == 0 { 1 } else { step_milli as i64 };
    // Bits × 1 000 against step × 65 536: 2 × (2^31 + 1) × 1 000 + 2^32 < 2^43.
    let doubled = (bits as i64 + 1).wrapping_mul(2_000).wrapping_add(step << 16);
    let Some(count) = doubled.checked_div_euclid(step << 17) else { return Saturated::exact(bits) };
    // |count| × step < 2^31 × 1 000 ÷ 2^16 + step < 2^26: × 2^16 fits
    clamp(divide_rounded(count.wrapping_mul(step) << 16, 1_000))
}

/// `value × a × b ÷ (c × d)`, half away from zero, 2⁻³⁰ relative; `None` where c or d is zero. A larger
/// a or b never brings it nearer to zero. One wide divide and 128-bit products: for breaths, never for samples.
#[must_use]
pub(crate) const fn scaled_by_products(
    value: i32,
    (a, b): (u32, u32),
    (c, d): (u32, u32),
) -> Option<Saturated<i32>> {
    // 2^31 × 2^64 and 2^64
    let top = (value as i128).wrapping_mul((a as u64).wrapping_mul(b as u64) as i128);
    quotient(top, (c as u64).wrapping_mul(d as u64) as i128, 1, 0)
}
