//! Sums over minutes.
//!
//! | operation | operands | result | rounding | overflow |
//! |---|---|---|---|---|
//! | [`add_q8`] | Q8 sum, Q16 | Q8 | half up | clamps at ±8.3 million |
//! | [`mean_q8`] | Q8 sum ÷ count | Q16 | toward zero | clamps, reported; `None` for none |
//! | [`a_minute_q8`] | Q8 sum ÷ µs | Q16 a minute | toward zero | clamps, reported; `None` for no time |
//! | [`count_a_minute`] | count ÷ µs | Q16 a minute | toward zero | clamps, reported; `None` for no time |
//! | [`add_us`] | µs sum, µs | µs (`u32`) | exact | clamps at 71 minutes |

use super::{SECOND_US, Saturated, clamp, ratio_q16};

const MINUTE_US: i64 = 60 * SECOND_US as i64;

/// Adds a Q16 value to a sum with 8 fraction bits.
#[must_use]
pub(crate) const fn add_q8(sum: i32, bits: i32) -> i32 {
    sum.saturating_add(((bits as i64 + (1 << 7)) >> 8) as i32)
}

/// Mean of `count` values of a Q8 sum. One wide divide.
#[must_use]
pub(crate) const fn mean_q8(sum: i32, count: u16) -> Option<Saturated<i32>> {
    if count == 0 { None } else { Some(clamp(((sum as i64) << 8) / count as i64)) }
}

/// Events over a time as a rate a minute: 2¹⁶ × 2²⁶ fits. One wide divide.
#[must_use]
pub(crate) const fn count_a_minute(count: u16, us: u32) -> Option<Saturated<i32>> {
    ratio_q16(count as i64 * MINUTE_US, us as i64)
}

/// Adds a span to a short sum.
#[must_use]
pub(crate) const fn add_us(sum: u32, us: u64) -> u32 {
    let us = if us > u32::MAX as u64 { u32::MAX } else { us as u32 };
    sum.saturating_add(us)
}
