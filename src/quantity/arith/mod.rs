//! The only room that multiplies, divides, shifts or casts.
//!
//! Plain operators on `fixed` types wrap silently in release builds, even with overflow checks,
//! so none is used. Values are `I16F16` bits (`i32`, one step = 1/65 536) unless said otherwise.
//!
//! | operation | operands | result | rounding | overflow |
//! |---|---|---|---|---|
//! | [`add`], [`sub`] | Q16, Q16 | Q16 | exact | clamps, reported |
//! | [`mul_q16`] | Q16, Q16 | Q16 | half up | clamps, reported |
//! | [`scale_ratio`] | integer × num ÷ den | integer | half away from zero | clamps, reported |
//! | [`ratio_q16`] | `i64` ÷ `i64` | Q16 | toward zero; operands above 2⁴⁷ lose their low bits first, 2⁻³⁰ relative at most | clamps, reported; `None` at zero |
//! | [`trapezoid`] | Q16, Q16, µs | 2·Q16·µs (`i64`) | exact | cannot: 2³² × 2³¹ fits |
//! | [`accumulate`] | `i64`, `i64` | `i64` | exact | clamps, reported |
//! | [`add_bounded`] | `i64`, `i64` | `i64` | exact | none by the caller's own bound |
//! | [`area_to_q16`] | 2·Q16·µs | Q16 (unit × s) | half away from zero | clamps, reported |
//! | [`mean_q16`] | 2·Q16·µs, µs | Q16 | toward zero | clamps, reported; `None` at zero |
//! | [`root_q16`] | Q16 | Q16, sign kept | table, see there | cannot |
//! | [`mul_wide`] | `i64` × Q16 | `i64` | toward negative infinity | clamps, reported |
//! | [`mean_is_within`] | sum, count, Q16, Q16 | yes or no | as [`mean_of`], without the divide | cannot: counts below 2³¹ |
//! | [`mean_of`], [`mean_us`] | sum ÷ count | as the sum | toward zero | clamps; zero or `None` for none |
//! | [`per_minute`], [`minute_over`] | µs, per minute | Q16, µs | toward zero | clamps; `None` at zero |
//! | [`between`], [`crossing`], [`along`] | points of a line | Q16 | half up; toward zero; down | clamps to the line |
//! | [`halved`], [`fraction`] | Q16 or `i64` | same | toward negative infinity | cannot |
//! | [`part_of_tau`] | µs, 2⁻³²/µs | Q16 | down | clamps |
//! | [`count_share`] | counts | Q16 | toward zero | clamps; `None` at zero or beyond 2⁴⁶ |
//! | [`span_ratio_q16`], [`exact_ratio_q16`] | `u64` ÷ `u64` | Q16 | toward zero | clamps, reported; `None` at zero |
//! | [`short_share_q16`] | µs, µs | Q16, 0 to 1 | toward zero | 1 where the part is no smaller |
//! | [`parts_of`], [`parts_in`] | Q16, 1/10 000 | Q16; 1/10 000 | half away from zero; nearest | cannot; `None` |
//! | [`on_grid`] | Q16, step in thousandths | Q16 | half up, one step of slack | clamps, reported |
//! | [`scaled_by_products`] | Q16 × (a·b) ÷ (c·d) | Q16 | half away from zero, 2⁻³⁰ relative | clamps, reported; `None` at zero |
//!
//! A 64-bit divide is a library call on a Cortex-M, so [`scale_ratio`], [`ratio_q16`],
//! the means and the rates belong to breaths, never to samples.
#![expect(
    clippy::arithmetic_side_effects,
    clippy::as_conversions,
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_sign_loss,
    clippy::integer_division_remainder_used,
    reason = "the one room for raw arithmetic; each bound stands beside its operation"
)]

mod bend;
mod bytes;
#[cfg(test)]
mod digest_tests;
#[cfg(test)]
mod edge_tests;
mod level;
mod line;
mod motion;
mod muscle;
#[cfg(test)]
mod oracle_tests;
mod share;
mod spread;
mod step;
mod tally;
mod time;

pub(crate) use bend::*;
pub(crate) use bytes::*;
pub(crate) use level::*;
pub(crate) use line::*;
pub(crate) use motion::*;
pub(crate) use muscle::*;
pub(crate) use share::*;
pub(crate) use spread::*;
pub(crate) use step::*;
pub(crate) use tally::*;
pub(crate) use time::*;

use super::Saturated;

/// One in Q16.
pub(crate) const ONE: i32 = 1 << 16;
/// One half in Q16.
pub(crate) const HALF: i32 = 1 << 15;
/// Microseconds in a second.
pub(crate) const SECOND_US: u32 = 1_000_000;

/// An `i32` in 64 bits.
#[must_use]
pub(crate) const fn widen(x: i32) -> i64 {
    x as i64
}

/// A whole number in Q16. |i16| × 2¹⁶ fits `i32`.
#[must_use]
pub(crate) const fn whole_to_bits(whole: i16) -> i32 {
    (whole as i32) << 16
}

/// Whole part and thousandths (toward zero) of the magnitude, for printing.
#[cfg(any(test, feature = "defmt"))]
#[must_use]
pub(crate) const fn whole_and_milli(bits: i32) -> (u32, u32) {
    let magnitude = bits.unsigned_abs();
    // fraction < 2^16, × 1000 < 2^26
    (magnitude >> 16, ((magnitude & 0xffff) * 1_000) >> 16)
}

const fn clamp(wide: i64) -> Saturated<i32> {
    let short = wide as i32;
    if short as i64 == wide {
        return Saturated::new(short, false);
    }
    Saturated::new(if wide < 0 { i32::MIN } else { i32::MAX }, true)
}

/// Sum of two values of one unit: one instruction where the core saturates by itself and nobody
/// asks whether it did.
#[inline]
pub(crate) const fn add(a: i32, b: i32) -> Saturated<i32> {
    Saturated::new(a.saturating_add(b), a.checked_add(b).is_none())
}

/// Difference of two values of one unit; as [`add`].
#[inline]
pub(crate) const fn sub(a: i32, b: i32) -> Saturated<i32> {
    Saturated::new(a.saturating_sub(b), a.checked_sub(b).is_none())
}

/// Product of two Q16 values. The largest product is 2⁶², plus half a step fits.
pub(crate) const fn mul_q16(a: i32, b: i32) -> Saturated<i32> {
    clamp((a as i64 * b as i64 + (1 << 15)) >> 16)
}

/// `value × numerator ÷ denominator`, rounded half away from zero. `value` and `numerator` are 32
/// bits wide, so the product fits.
pub(crate) const fn scale_ratio(value: i32, numerator: u32, denominator: u32) -> Saturated<i32> {
    if denominator == 0 {
        return Saturated::new(if value < 0 { i32::MIN } else { i32::MAX }, true);
    }
    let product = value as i64 * numerator as i64;
    clamp(divide_rounded(product, denominator))
}

/// Rounded half away from zero; zero for no denominator, which no caller gives: so no division stands that the
/// compiler cannot see to be safe.
const fn divide_rounded(numerator: i64, denominator: u32) -> i64 {
    if denominator == 0 {
        return 0;
    }
    let magnitude = numerator.unsigned_abs();
    let d = denominator as u64;
    let quotient = magnitude / d + ((magnitude % d >= d - d / 2) as u64);
    if numerator < 0 { (quotient as i64).wrapping_neg() } else { quotient as i64 }
}

/// Ratio of two wide numbers of one unit, in Q16; `None` where the denominator is zero.
#[must_use]
pub(crate) const fn ratio_q16(numerator: i64, denominator: i64) -> Option<Saturated<i32>> {
    if denominator == 0 {
        return None;
    }
    let (n, d) = (numerator.unsigned_abs(), denominator.unsigned_abs());
    // Bring the numerator under 2^47 so that × 2^16 fits; both lose the same power of two.
    let used = 64 - n.leading_zeros();
    let shift = used.saturating_sub(47);
    let (n, d) = (n >> shift, d >> shift);
    let negative = (numerator < 0) != (denominator < 0);
    if d == 0 {
        return Some(Saturated::new(if negative { i32::MIN } else { i32::MAX }, true));
    }
    // Below 2^63.
    let quotient = ((n << 16) / d) as i64;
    Some(clamp(if negative { quotient.wrapping_neg() } else { quotient }))
}

/// Twice the area under a straight line from `a` to `b` over `span_us`, exact: in steps of
/// unit/65 536 × µs ÷ 2. |a + b| ≤ 2³² and a span below 2³¹ (what
/// [`short_us`] gives) stay below 2⁶³.
#[must_use]
pub(crate) const fn trapezoid(a: i32, b: i32, span_us: u32) -> i64 {
    (a as i64 + b as i64).wrapping_mul(span_us as i64)
}

/// As [`trapezoid`] where both ends are `a` and the span is at most 500 ms: below 2⁵².
#[must_use]
pub(crate) const fn steady(a: i32, span_us: u32) -> i64 {
    product(a, span_us.wrapping_mul(2) as i32)
}

/// Adds to a wide sum, clamping and saying so.
pub(crate) const fn accumulate(sum: i64, more: i64) -> Saturated<i64> {
    let (total, saturated) = sum.overflowing_add(more);
    let end = if more < 0 { i64::MIN } else { i64::MAX };
    Saturated::new(if saturated { end } else { total }, saturated)
}

/// Adds to a wide sum whose own bound keeps it below 2⁶³.
#[must_use]
pub(crate) const fn add_bounded(sum: i64, more: i64) -> i64 {
    sum.wrapping_add(more)
}

/// A doubled area (unit/65 536 × µs) as unit × second in Q16. No divide: 2·10⁶ = 2⁷ × 15 625, and for
/// x below 2⁵⁷ (here at most (2⁶³ + 10⁶) ÷ 2⁷) ⌊x·⌈2⁷⁷ ÷ 15 625⌉ ÷ 2⁷⁷⌋ is ⌊x ÷ 15 625⌋, since the
/// factor is rounded up by 5 478 ÷ 15 625 of a step and 5 478 is below 2⁷⁷⁻⁵⁷.
#[inline(never)]
pub(crate) const fn area_to_q16(doubled: i64) -> Saturated<i32> {
    const FACTOR: u64 = 9_671_406_556_917_033_398;
    let x = doubled.unsigned_abs().wrapping_add(SECOND_US as u64) >> 7;
    let quotient = ((x as u128 * FACTOR as u128) >> 77) as i64;
    clamp(if doubled < 0 { quotient.wrapping_neg() } else { quotient })
}

/// unit × second in Q16 as a doubled area; exact.
#[must_use]
pub(crate) const fn q16_to_area(bits: i32) -> i64 {
    // 2^31 × 2×10^6 < 2^52
    bits as i64 * (2 * SECOND_US) as i64
}

/// The mean value behind a doubled area over a span; `None` where the span is zero.
#[must_use]
pub(crate) const fn mean_q16(doubled: i64, span_us: u64) -> Option<Saturated<i32>> {
    if span_us == 0 || span_us > (i64::MAX as u64) / 2 {
        return None;
    }
    Some(clamp(doubled / (2 * span_us as i64)))
}

/// A wide sum times a Q16 factor, for factors of at most a few hundred; clamps and says so.
pub(crate) const fn mul_wide(sum: i64, factor_q16: i32) -> Saturated<i64> {
    // Split so that each product fits: sum = high × 2^16 + low.
    let high = sum >> 16;
    let low = sum & 0xffff;
    match high.checked_mul(factor_q16 as i64) {
        Some(h) => accumulate(h, (low * factor_q16 as i64) >> 16),
        None => {
            let negative = (sum < 0) != (factor_q16 < 0);
            Saturated::new(if negative { i64::MIN } else { i64::MAX }, true)
        }
    }
}

/// Halved `times` over, toward negative infinity; above 31 times gives the sign.
#[must_use]
pub(crate) const fn halved(x: i32, times: u32) -> i32 {
    if times > 31 { x >> 31 } else { x >> times }
}

/// One part in `2^shift` of a wide value, toward negative infinity; shifts above 63 give the sign.
#[must_use]
pub(crate) const fn fraction(x: i64, shift: u32) -> i64 {
    if shift > 63 { x >> 63 } else { x >> shift }
}

/// The part of `whole` that is `q16` (0 to 1), toward zero.
#[must_use]
pub(crate) const fn portion_u32(whole: u32, q16: i32) -> u32 {
    let share = if q16 < 0 {
        0
    } else if q16 > ONE {
        ONE
    } else {
        q16
    };
    // 2^32 × 2^16 fits u64, result ≤ whole
    ((whole as u64 * share as u64) >> 16) as u32
}

const LONGEST_US: u32 = u32::MAX >> 1;

/// For i = 32 ..= 127, √(i/32) in 2⁻¹⁵, rounded, in the high half, and the way to the next in the
/// low half. The places below 32 are never asked for.
#[expect(
    clippy::indexing_slicing,
    reason = "evaluated at compile time: an index out of range does not build"
)]
const ROOT_TABLE: [u32; 128] = {
    let mut table = [0; 128];
    let mut i = 32;
    while i < 128 {
        let low = root_of_32nds(i as u64);
        table[i] = (low << 16) | (root_of_32nds(i as u64 + 1) - low);
        i += 1;
    }
    table
};

/// √(i/32) in 2⁻¹⁵, rounded, at most 2¹⁶ − 1.
const fn root_of_32nds(i: u64) -> u32 {
    // i/32 × 2^30; its root is √(i/32) × 2^15.
    let square = i << 25;
    let floor = square.isqrt();
    let rounded = if square - floor * floor > floor { floor + 1 } else { floor };
    if rounded > 65_535 { 65_535 } else { rounded as u32 }
}

/// Square root that keeps the sign: √x for x ≥ 0, −√−x below, both in Q16.
///
/// Table of 97 points on \[1, 4\] with straight lines between, scaled by powers of four. Relative
/// error below 4·10⁻⁵ plus one step; tested against `f64` over the whole range. No divide.
#[must_use]
#[inline]
pub(crate) fn root_q16(bits: i32) -> i32 {
    let x = bits.unsigned_abs();
    if x == 0 {
        return 0;
    }
    // x = m × 4^e with m in [1, 4) as Q30: shift left by an even count.
    let up = x.leading_zeros() & !1;
    let m = x << up; // top bit at 31 or 30
    let place = ROOT_TABLE.get((m >> 25) as usize); // 32 ..= 127
    let entry = if let Some(entry) = place { *entry } else { 0 };
    let within = (m & ((1 << 25) - 1)) >> 9;
    // The way to the next is below 2^9, within below 2^16. root in 2^-23, below 2^24.
    let ahead = (entry & 0xffff).wrapping_mul(within) >> 8;
    let root = ((entry >> 16) << 8).wrapping_add(ahead);
    // √(x/2^16) in Q16 = √x × 2^8, and √x = root/2^23 × 2^(15 − up/2): root × 2^(−up/2).
    let down = up / 2; // 0 ..= 15
    let half = (1 << down) >> 1;
    let signed = (root.wrapping_add(half) >> down) as i32; // < 2^24
    if bits < 0 { signed.wrapping_neg() } else { signed }
}

/// A `u32` in 64 bits.
#[must_use]
pub(crate) const fn widen_u32(x: u32) -> u64 {
    x as u64
}

/// Mean of `count` values of one unit, toward zero; zero for none.
#[must_use]
pub(crate) const fn mean_of(sum: i64, count: u32) -> i32 {
    if count == 0 {
        return 0;
    }
    let short = sum as i32;
    if short as i64 == sum && count <= i32::MAX as u32 {
        // Most sums are short: one 32-bit divide. The count is above zero and not -1.
        return short / count as i32;
    }
    clamp(sum / count as i64).value
}

/// Whether [`mean_of`] lies between `low` and `high`, both included, for a count above zero. No
/// divide: (2³¹ + 1) × 2³¹ fits.
#[must_use]
pub(crate) const fn mean_is_within(sum: i64, count: u32, low: i32, high: i32) -> bool {
    let (low, high, n) = (low as i64, high as i64, count as i64);
    // Rounding toward zero widens a bound on its far side from zero by just less than one.
    let above = if low > 0 {
        sum >= low.wrapping_mul(n)
    } else {
        sum > low.wrapping_sub(1).wrapping_mul(n)
    };
    let below = if high < 0 {
        sum <= high.wrapping_mul(n)
    } else {
        sum < high.wrapping_add(1).wrapping_mul(n)
    };
    above && below
}

/// Slope of a rising line in value steps per count, Q16; |Δvalue| × 2¹⁶ ≤ 2⁴⁸ fits.
#[must_use]
pub(crate) const fn slope_q16(from: i32, to: i32, from_count: i32, to_count: i32) -> i64 {
    let counts = to_count as i64 - from_count as i64;
    if counts == 0 { 0 } else { ((to as i64 - from as i64) << 16) / counts }
}

/// The value on a line at `count`, for counts between its ends: then the product stays below 2⁴⁹.
#[must_use]
pub(crate) const fn along(from: i32, slope_q16: i64, count: i32, from_count: i32) -> i32 {
    let ahead = count as i64 - from_count as i64;
    clamp(from as i64 + (slope_q16.saturating_mul(ahead) >> 16)).value
}

/// Whole part and remainder of hundredths.
#[must_use]
pub(crate) const fn split_hundred(hundredths: u16) -> (u16, u16) {
    (hundredths / 100, hundredths % 100)
}

/// A point between two pressures in hundredths of a pascal, as cmH2O in Q16 (98.0665 Pa each).
#[must_use]
pub(crate) const fn centi_pascal_to_q16(low: u32, high: u32, hundredths: u16) -> i32 {
    // 10^6 × 100 + 10^6 × 100 < 2^28; × 65 536 < 2^44
    let between = low as u64 * 100 + high.saturating_sub(low) as u64 * hundredths as u64;
    clamp(((between << 16) / 980_665) as i64).value
}

/// Full product of two 32-bit numbers.
#[must_use]
pub(crate) const fn product(a: i32, b: i32) -> i64 {
    a as i64 * b as i64
}

/// A point on the straight line from `a` to `b`, `share_q16` of the way, half up: 0 to 1, or beyond where the
/// ends are no more than 2³¹ apart.
#[must_use]
pub(crate) const fn between(a: i32, b: i32, share_q16: i32) -> i32 {
    // |b − a| < 2^32, × 2^16 < 2^48; 2^31 × 2^31 < 2^63.
    let ahead = (b as i64 - a as i64) * share_q16 as i64;
    clamp(a as i64 + ((ahead + (1 << 15)) >> 16)).value
}

/// How far along from `a` to `b` the value `level` lies, Q16 between 0 and 1.
#[must_use]
pub(crate) const fn crossing(a: i32, b: i32, level: i32) -> i32 {
    let (whole, ahead) = (b as i64 - a as i64, level as i64 - a as i64);
    match ratio_q16(ahead, whole) {
        Some(r) if r.value >= 0 && r.value <= ONE => r.value,
        Some(r) if r.value > ONE => ONE,
        _ => 0,
    }
}

/// A hundredth of the magnitude, toward zero.
#[must_use]
pub(crate) const fn hundredth(x: i32) -> u32 {
    x.unsigned_abs() / 100
}

/// Whole root, toward zero: one bit a round, at most 32 rounds. (The standard library's own can panic as far
/// as a linker can tell.)
const fn isqrt(x: u64) -> u64 {
    // The largest power of four that is not above x, or one.
    let top = 62_u32.saturating_sub(x.leading_zeros() & !1);
    let (mut rest, mut root, mut bit) = (x, 0_u64, 1_u64 << top);
    while bit != 0 {
        let trial = root | bit;
        root >>= 1;
        if rest >= trial {
            rest = rest.wrapping_sub(trial);
            root |= bit;
        }
        bit >>= 2;
    }
    root
}

/// Root of the sum of squares, toward zero, clamped to `i32`. Sixteen squares below 2⁶⁰ fit.
#[must_use]
pub(crate) fn root_of_squares(parts: &[u32]) -> i32 {
    let mut total = 0_u64;
    for &part in parts {
        total = total.saturating_add(part as u64 * part as u64);
    }
    let root = isqrt(total);
    if root > i32::MAX as u64 { i32::MAX } else { root as i32 }
}

/// Half, toward zero.
#[must_use]
pub(crate) const fn half_u16(x: u16) -> u16 {
    x >> 1
}

/// A span as a part of τ in Q16, from 1/τ in 2⁻³² per µs; clamps.
#[must_use]
pub(crate) const fn part_of_tau(span_us: u32, inverse_tau: u32) -> i32 {
    let share_q16 = (span_us as u64 * inverse_tau as u64) >> 16;
    if share_q16 > i32::MAX as u64 { i32::MAX } else { share_q16 as i32 }
}

/// Seven flags, the latest lowest, with another one put in.
#[must_use]
pub(crate) const fn latest_of_seven(flags: u8, latest: bool) -> u8 {
    ((flags << 1) | latest as u8) & 0x7f
}
