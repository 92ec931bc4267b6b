//! What every sample costs: no clamp where the bound is proved.
//!
//! | operation | operands | result | rounding | overflow |
//! |---|---|---|---|---|
//! | [`away`] | Q16, Q16 | wide Q16 | exact | cannot: below 2³² |
//! | [`is_within_span`] | Q16, Q16 ≥ 0 | yes or no | exact | cannot |
//! | [`middle`] | Q16, Q16 | Q16 | toward −∞ | cannot: between both |
//! | [`add_part`], [`fade`] | `i64` | same | parts toward −∞ | clamps |
//! | [`lowpass`], [`lowpass_wide`] | from, to, halvings | same | toward −∞ | cannot: between both |
//! | [`part_way`] | Q16, Q16, share | Q16 | toward −∞ | cannot: between both |
//! | [`trapezoid_over`] | Q16, Q16, Q16, µs | 2·Q16·µs | exact | cannot: 2³³ × 2²⁹ fits |

use super::{ONE, fraction};

/// How far `to` stands above `from`.
#[must_use]
#[inline]
pub(crate) const fn away(from: i32, to: i32) -> i64 {
    to as i64 - from as i64
}

/// Whether a value lies between −`limit` and `limit`, for a limit of at least zero: shifted up by the
/// limit, what lies below wraps to above 2³¹ + limit.
#[must_use]
#[inline]
pub(crate) const fn is_within_span(bits: i32, limit: i32) -> bool {
    bits.wrapping_add(limit).cast_unsigned() <= limit.cast_unsigned() << 1
}

/// From a value toward another by one part in `2^shift` (at most 31) of the way: a first-order lag.
/// The last steps below `2^shift` stay where it comes from below: at four halvings 0.0002 of a unit.
#[must_use]
#[inline]
pub(crate) const fn lowpass(from: i32, to: i32, shift: u32) -> i32 {
    let shift = if shift > 31 { 31 } else { shift };
    (from as i64 + (away(from, to) >> shift)) as i32
}

/// The same for wide values that lie within 2⁶³ of each other.
#[must_use]
pub(crate) const fn lowpass_wide(from: i64, to: i64, shift: u32) -> i64 {
    from.saturating_add(fraction(to.saturating_sub(from), shift))
}

/// Adds one part in 2^`shift` of more to a sum, clamped.
#[inline]
pub(crate) const fn add_part(sum: &mut i64, more: &i64, shift: u32) {
    *sum = sum.saturating_add(fraction(*more, shift));
}

/// Leaves seven eighths of a sum.
#[inline]
pub(crate) const fn fade(sum: &mut i64) {
    *sum = sum.saturating_sub(fraction(*sum, 3));
}

/// The point `share_q16` of the way from `from` to `to`; a share beyond 0 to 1 counts as its end.
#[must_use]
#[inline]
pub(crate) const fn part_way(from: i32, to: i32, share_q16: i32) -> i32 {
    let share = if share_q16 < 0 {
        0
    } else if share_q16 > ONE {
        ONE
    } else {
        share_q16
    };
    // 2^32 × 2^16 fits, and the point lies between both.
    (from as i64 + ((away(from, to) * share as i64) >> 16)) as i32
}

/// Twice the area between a straight line and a level; spans above 2²⁹ µs count as that.
#[must_use]
#[inline]
pub(crate) const fn trapezoid_over(a: i32, b: i32, level: i32, span_us: u32) -> i64 {
    let span = if span_us > 1 << 29 { 1 << 29 } else { span_us };
    away(level, a).wrapping_add(away(level, b)).wrapping_mul(span as i64)
}
