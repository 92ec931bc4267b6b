//! Fits, emptying and tubes.
//!
//! | operation | operands | result | rounding | overflow |
//! |---|---|---|---|---|
//! | [`coarse`] | Q16, shift | fewer fraction bits | half up | cannot |
//! | [`area_to_q12`] | 2·Q16·µs | Q12 (unit × s) | toward −∞, 10⁻⁹ relative | clamps, reported |
//! | [`moment`] | sums | `i128` | exact | cannot: below 2⁸⁰ |
//! | [`even_scale`], [`scaled_down`] | `i128` | shift, `i64` | toward −∞ | clamps |
//! | [`difference_of_products`], [`sum_of_products`] | `i64` | `i128` | exact | cannot: below 2¹²⁷ |
//! | [`quotient`] | `i128` × num ÷ `i128` | `i32` | half away from zero, 2⁻³⁰ relative | clamps, reported; `None` at zero |
//! | [`weighted`] | Q16, Q24 | Q16 | half up | clamps |
//! | [`half_power_q30`] | Q26 | Q30 | 4·10⁻⁶ relative | cannot |
//! | [`log2_q24`] | integer | Q24 | toward zero, 2⁻²⁴ | cannot |
//! | [`ln_q16`] | Q16 above zero | Q16 | half up, 1 step | cannot |
//!
//! All but the first two belong to breaths; 128-bit products are library calls or long on a Cortex-M,
//! so what holds them is never inlined.

use super::{ONE, SECOND_US, Saturated, clamp, divide_rounded, isqrt, ratio_q16};

/// Fewer fraction bits, half up. Shifts of 1 to 16; the sum fits 64 bits.
#[must_use]
pub(crate) const fn coarse(bits: i32, shift: u32) -> i32 {
    let shift = if shift > 16 { 16 } else { shift };
    if shift == 0 { bits } else { ((bits as i64 + (1 << (shift - 1))) >> shift) as i32 }
}

/// A doubled area as unit × second with 12 fraction bits, clamped at ±3 000. No divide: 2⁵³ ÷
/// (2·10⁶ × 2⁴) rounded serves as the factor, 10⁻⁹ relative; |area| ≤ 2⁴⁸·⁵ less 16 bits times
/// 2²⁸·¹ is below 2⁶¹.
pub(crate) const fn area_to_q12(doubled: i64) -> Saturated<i32> {
    const MOST: i64 = 3_000 * 2 * SECOND_US as i64 * ONE as i64;
    const FACTOR: i64 = 281_474_977;
    let (area, cut) = if doubled > MOST {
        (MOST, true)
    } else if doubled < -MOST {
        (-MOST, true)
    } else {
        (doubled, false)
    };
    Saturated::new((((area >> 16) * FACTOR) >> 37) as i32, cut)
}

/// n·Σxy − Σx·Σy. Counts below 2³² and sums of at most 2⁶³: below 2⁹⁶ and 2¹²⁶.
#[must_use]
#[inline(never)]
pub(crate) const fn moment(count: u32, sum_xy: i64, sum_x: i64, sum_y: i64) -> i128 {
    count as i128 * sum_xy as i128 - sum_x as i128 * sum_y as i128
}

/// k for which `own` ÷ 2²ᵏ lies in \[2⁵⁸, 2⁶⁰); `None` where `own` is not above zero. k may be
/// negative.
#[must_use]
pub(crate) const fn even_scale(own: i128) -> Option<i32> {
    if own <= 0 {
        return None;
    }
    let used = 128 - own.leading_zeros() as i32; // 1 ..= 127
    Some((used - 59) >> 1)
}

/// `x` ÷ 2ᵇʸ, toward −∞, clamped to `i64`. `by` may be negative, above −64.
#[must_use]
#[inline(never)]
pub(crate) const fn scaled_down(x: i128, by: i32) -> i64 {
    let moved = if by >= 0 {
        x >> (if by > 127 { 127 } else { by })
    } else {
        let up = if by < -63 { 63 } else { -by };
        if x.unsigned_abs().leading_zeros() as i32 <= up {
            return if x < 0 { i64::MIN } else { i64::MAX };
        }
        x << up
    };
    if moved > i64::MAX as i128 {
        i64::MAX
    } else if moved < i64::MIN as i128 {
        i64::MIN
    } else {
        moved as i64
    }
}

/// a·b − c·d; operands below 2⁶³ in magnitude.
#[must_use]
#[inline(never)]
pub(crate) const fn difference_of_products(a: i64, b: i64, c: i64, d: i64) -> i128 {
    (a as i128 * b as i128).saturating_sub(c as i128 * d as i128)
}

/// a·b + c·d; operands below 2⁶³ in magnitude.
#[must_use]
#[inline(never)]
pub(crate) const fn sum_of_products(a: i64, b: i64, c: i64, d: i64) -> i128 {
    (a as i128 * b as i128).saturating_add(c as i128 * d as i128)
}

/// The shift that brings all three under 2⁶⁰ in magnitude.
#[must_use]
pub(crate) const fn shared_scale(a: i128, b: i128, c: i128) -> i32 {
    let all = a.unsigned_abs() | b.unsigned_abs() | c.unsigned_abs();
    68_u32.saturating_sub(all.leading_zeros()) as i32 // 128 − 60 bits in use
}

/// The upper 32 bits of a number above zero and the power of two that they lost.
const fn mantissa(x: u128) -> (u64, i32) {
    let free = x.leading_zeros();
    let top =
        if free < 96 { x >> 96_u32.saturating_sub(free) } else { x << free.saturating_sub(96) };
    (top as u64, 96_i32.saturating_sub(free as i32))
}

/// `numerator × multiplier × 2^exponent ÷ denominator`, half away from zero. Each 128-bit number
/// keeps its upper 32 bits (2⁻³¹ relative each), so that one 64-bit divide serves.
#[must_use]
#[inline(never)]
pub(crate) const fn quotient(
    numerator: i128,
    denominator: i128,
    multiplier: u32,
    exponent: i32,
) -> Option<Saturated<i32>> {
    if denominator == 0 {
        return None;
    }
    if numerator == 0 || multiplier == 0 {
        return Some(Saturated::exact(0));
    }
    let negative = (numerator < 0) != (denominator < 0);
    let (top, top_power) = mantissa(numerator.unsigned_abs());
    let (bottom, bottom_power) = mantissa(denominator.unsigned_abs());
    let product = top.wrapping_mul(multiplier as u64); // < 2^64
    let up = product.leading_zeros();
    // [2^63, 2^64) ÷ [2^31, 2^32): above 2^31, at most 2^33
    // The mantissa of a number that is not zero has its top bit set; the linker cannot know.
    let Some(digits) = product.wrapping_shl(up).checked_div(bottom) else { return None };
    let power = top_power.saturating_sub(bottom_power).saturating_sub(up as i32);
    let power = power.saturating_add(exponent);
    let magnitude = if power > 30 {
        i64::MAX
    } else if power >= 0 {
        // ≤ 2^33 × 2^29 fits; at 2^30 the number is beyond i32 anyway
        if power > 29 { i64::MAX } else { (digits << power) as i64 }
    } else if power < -35 {
        0
    } else {
        let down = power.unsigned_abs(); // 1 to 35
        (digits.wrapping_add((1_u64 << down) >> 1) >> down) as i64
    };
    Some(clamp(if negative { magnitude.wrapping_neg() } else { magnitude }))
}

/// Mean of `count` values (above zero) of a sum below 2⁴⁷, with up to 16 more fraction bits; clamps.
#[must_use]
pub(crate) const fn mean_finer(sum: i64, count: u32, more_bits: u32) -> i32 {
    let more = if more_bits > 16 { 16 } else { more_bits };
    if count == 0 { 0 } else { clamp(sum.saturating_mul(1 << more) / count as i64).value }
}

/// Q16 × Q24, in Q16, half up; the product of two 32-bit numbers fits.
#[must_use]
pub(crate) const fn weighted(value_q16: i32, slope_q24: i32) -> i32 {
    clamp((value_q16 as i64 * slope_q24 as i64 + (1 << 23)) >> 24).value
}

const POWERS: usize = 129;
/// 2^(−i/128) in 2⁻³¹, rounded; i = 0 ..= 128.
#[expect(
    clippy::indexing_slicing,
    reason = "evaluated at compile time: an index out of range does not build"
)]
const POWER_TABLE: [u32; POWERS] = {
    // Seven roots of a half in Q60 give 2^(−1/128).
    let mut step = 1_u128 << 59;
    let mut i = 0;
    while i < 7 {
        step = (step << 60).isqrt();
        i += 1;
    }
    let mut table = [0_u32; POWERS];
    let mut power = 1_u128 << 60;
    let mut i = 0;
    while i < POWERS {
        table[i] = ((power + (1 << 28)) >> 29) as u32;
        power = (power * step) >> 60;
        i += 1;
    }
    table
};

/// 2⁻ˣ in Q30 for x ≥ 0 in Q26: table of 129 points with straight lines between, (ln 2 ÷ 128)² ÷ 8
/// = 3.7·10⁻⁶ relative too high at most. No divide. Zero from x = 31 on.
#[must_use]
pub(crate) fn half_power_q30(x_q26: u64) -> u32 {
    let whole = x_q26 >> 26;
    if whole > 30 {
        return 0;
    }
    let index = ((x_q26 >> 19) & 127) as usize;
    let within = x_q26 & ((1 << 19) - 1);
    let (from, to) = match (POWER_TABLE.get(index), POWER_TABLE.get(index + 1)) {
        (Some(f), Some(t)) => (*f as u64, *t as u64),
        _ => (0, 0),
    };
    // (from − to) < 2^24, × 2^19 < 2^43
    let q31 = from.wrapping_sub(from.wrapping_sub(to).wrapping_mul(within) >> 19);
    (q31 >> (whole + 1)) as u32
}

/// e^(−span ÷ τ) in Q30, within 4·10⁻⁶ of itself and one step; `None` where τ is zero. One wide
/// divide.
#[must_use]
pub(crate) fn decay_q30(span_us: u64, tau_us: u64) -> Option<u32> {
    const LOG2_E_Q30: u64 = 1_549_082_005; // 1.442695041
    if tau_us == 0 {
        return None;
    }
    if span_us >> 5 >= tau_us {
        return Some(0); // 32 τ and more: below 2^-46
    }
    // Bring the span under 2^37 so that × 2^26 fits; the ratio is below 32.
    let down = 27_u32.saturating_sub(span_us.leading_zeros()); // 64 − 37 bits in use
    let tau = tau_us >> down;
    if tau == 0 {
        return Some(0);
    }
    let ratio_q26 = ((span_us >> down) << 26) / tau; // below 2^32
    Some(half_power_q30(ratio_q26.wrapping_mul(LOG2_E_Q30) >> 30)) // 2^32 × 2^31 fits u64
}

/// A share in Q30 (at most 1) in Q16, half up.
#[must_use]
pub(crate) const fn q30_to_q16(share: u32) -> i32 {
    ((share as u64 + (1 << 13)) >> 14) as i32
}

/// log₂ of a whole number, in Q24, toward zero within 2⁻²³; 0 for 0. 24 products of 64 bits.
#[must_use]
pub(crate) const fn log2_q24(x: u64) -> i32 {
    if x == 0 {
        return 0;
    }
    let whole = 63_i32.wrapping_sub(x.leading_zeros() as i32);
    // m in [1, 2) as Q31: its square is below 2^64.
    let mut m = (x << x.leading_zeros()) >> 32;
    let mut log = whole;
    let mut i = 0;
    while i < 24 {
        m = m.wrapping_mul(m) >> 31;
        log <<= 1; // ends below 64 × 2^24 = 2^30
        if m >> 32 != 0 {
            m >>= 1;
            log |= 1;
        }
        i += 1;
    }
    log
}

/// Natural logarithm of a Q16 value above zero in Q24, within 2⁻²³; that of one step for others.
const fn ln_q24(bits: i32) -> i64 {
    const LN_2_Q30: i64 = 744_261_118;
    let bits = if bits < 1 { 1 } else { bits as u64 };
    let log2 = (log2_q24(bits) as i64).wrapping_sub(16 << 24); // |log2| ≤ 2^28
    log2.wrapping_mul(LN_2_Q30) >> 30
}

/// Natural logarithm of a Q16 value above zero, within 1 step; `None` else. For settings, not for
/// samples.
#[must_use]
pub(crate) const fn ln_q16(bits: i32) -> Option<i32> {
    if bits < 1 { None } else { Some(coarse(ln_q24(bits) as i32, 8)) }
}

/// K1 in cmH2O/(L/s), Q16, as cmH2O/(mL/s) in Q30; for 0 to 1 000 (2⁴⁰). One wide divide.
#[must_use]
pub(crate) const fn linear_per_ml(k1: i32) -> i64 {
    divide_rounded((k1 as i64) << 14, 1_000)
}

/// K2 in cmH2O/(L/s)², Q16, as cmH2O/(mL/s)² in Q40; for 0 to 10 000 (2⁵⁴). One wide divide.
#[must_use]
pub(crate) const fn square_per_ml(k2: i32) -> i64 {
    divide_rounded((k2 as i64) << 24, 1_000_000)
}

/// Resistance in cmH2O/(mL/s), Q30, at a flow in mL/s, Q16: for flows to 3 000 and factors as above
/// the product is below 2⁶¹ and the sum below 2³⁵; both wrap beyond. No divide.
#[must_use]
pub(crate) const fn resistance_q30(linear: i64, square: i64, flow: i32) -> i64 {
    let rising = square.wrapping_mul(flow.unsigned_abs() as i64);
    linear.wrapping_add(rising.wrapping_add(1 << 25) >> 26)
}

/// Q30 resistance (below 2³⁵) × Q16 flow (at most 3 000), in Q16, half away from zero: below 2⁶³.
pub(crate) const fn resistive_drop(resistance: i64, flow: i32) -> Saturated<i32> {
    let wide = resistance.wrapping_mul(flow.unsigned_abs() as i64);
    let magnitude = wide.wrapping_add(1 << 29) >> 30;
    clamp(if flow < 0 { -magnitude } else { magnitude })
}

/// Resistance in cmH2O/(L/s) from a drop and a flow in mL/s, or K2 from a difference of resistances
/// and one of flows: × 1 000 ÷, toward zero; `None` at zero flow.
#[must_use]
pub(crate) const fn per_litre_ratio(numerator: i32, flow: i32) -> Option<Saturated<i32>> {
    ratio_q16(numerator as i64 * 1_000, flow as i64)
}

/// Drop in Q16 from cmH2O/(L/s) and mL/s in Q16, half away from zero: 2⁶² ÷ 65 536 000.
pub(crate) const fn drop_per_litre(resistance: i32, flow: i32) -> Saturated<i32> {
    clamp(divide_rounded(resistance as i64 * flow as i64, 65_536_000))
}

/// 128·μ·L ÷ (π·d⁴) in cmH2O/(L/s), Q16, of a tube of d tenths of a millimetre and L millimetres
/// for air at 20 °C (μ 1.82·10⁻⁵ Pa·s): 75 615.497·L ÷ d⁴. 2³³ × 2¹⁶ fits. One wide divide.
#[must_use]
pub(crate) const fn poiseuille_q16(tenths: u8, length_mm: u16) -> i32 {
    const FACTOR: u64 = 4_955_537_193;
    let d = if tenths == 0 { 1 } else { tenths as u64 };
    let fourth = d * d * d * d; // < 2^32
    clamp(((FACTOR * length_mm as u64 + fourth / 2) / fourth) as i64).value
}

/// 4·ρ·Q ÷ (π·μ·d), Q16, for air at 20 °C (ρ 1.204 kg/m³): 842.29693·Q\[mL/s\] ÷ d\[0.1 mm\].
/// 2²⁶ × 2³¹ fits. One wide divide.
#[must_use]
pub(crate) const fn reynolds_q16(flow: i32, tenths: u8) -> u64 {
    const FACTOR: u64 = 55_200_772;
    let d = if tenths == 0 { 1 } else { tenths as u64 };
    ((FACTOR * flow.unsigned_abs() as u64) >> 16) / d
}

/// Nearest whole number of a Q16 number below 2⁴⁷.
#[must_use]
pub(crate) const fn nearest_whole(q16: u64) -> u32 {
    let whole = q16.saturating_add(1 << 15) >> 16;
    if whole > u32::MAX as u64 { u32::MAX } else { whole as u32 }
}

/// 0.3164·Re^(−1/4)·(L/d)·ρv²/2 in cmH2O, Q16, for air at 20 °C: 314.870902·L·Q² ÷ (d⁵·Re^(1/4)).
/// Sign of the flow kept. Two integer roots and one wide divide; 10⁻⁵ relative.
pub(crate) const fn blasius_q16(flow: i32, tenths: u8, length_mm: u16) -> Saturated<i32> {
    const FACTOR: i128 = 20_635_379;
    let reynolds = reynolds_q16(flow, tenths);
    // Re × 2^16 × 2^24: Re is below 2^23 even at d = 1 only by the cut; real tubes stay below 2^21.
    let cut = if reynolds > (1 << 39) - 1 { (1 << 39) - 1 } else { reynolds };
    let root_q20 = isqrt(cut << 24);
    let fourth_root_q20 = isqrt(root_q20 << 20);
    let d = tenths as i128;
    let q = flow.unsigned_abs() as i128;
    let top = FACTOR * length_mm as i128 * q * q; // < 2^25 × 2^16 × 2^62
    let bottom = d * d * d * d * d * fourth_root_q20 as i128;
    match quotient(if flow < 0 { -top } else { top }, bottom, 1, -12) {
        Some(drop) => drop,
        None => Saturated::exact(0),
    }
}

/// Re·√(r ÷ Rc), Q16: a tube of d tenths of a millimetre bent to a radius in millimetres.
#[must_use]
pub(crate) const fn dean_q16(reynolds: u64, tenths: u8, bend_mm: u16) -> u64 {
    let bend = if bend_mm == 0 { 1 } else { bend_mm as u64 };
    let root_q16 = isqrt(((tenths as u64) << 32) / (20 * bend)); // ≤ 2^18
    // Re below 2^21 → Q16 2^37, × 2^18 fits
    reynolds.saturating_mul(root_q16) >> 16
}

/// 21.5·De ÷ (1.56 + log₁₀ De)^5.73 in Q16 for De in \[13.5, 2 000\] (Q16); ends beyond are taken
/// at the end. 2·10⁻⁵ relative against `f64`. No divide, about fifty 64-bit products.
pub(crate) fn bend_ratio_q16(dean: u64) -> Saturated<i32> {
    const LEAST: u64 = 27 << 15;
    const MOST: u64 = 2_000 << 16;
    const LOG10_2_Q24: i64 = 5_050_445;
    const OFFSET_Q24: i64 = 26_172_457; // 1.56
    const POWER_Q16: i64 = 375_521; // 5.73
    const LOG2_FACTOR_Q24: i64 = 74_260_400; // log2 21.5
    if dean <= LEAST {
        return Saturated::exact(ONE);
    }
    let cut = if dean > MOST { MOST } else { dean };
    let log = log2_q24(cut) as i64 - (16 << 24); // ≤ 11 × 2^24
    let bottom = OFFSET_Q24 + ((log * LOG10_2_Q24) >> 24);
    let bottom_log = log2_q24(bottom as u64) as i64 - (24 << 24);
    let ratio_log = LOG2_FACTOR_Q24 + log - ((bottom_log * POWER_Q16) >> 16); // 0 to 2.4
    // 2^y = 2^3 × 2^(y − 3); Q30 × 2^3 to Q16
    let below = (3 << 24) - ratio_log;
    let power = half_power_q30(if below < 0 { 0 } else { (below as u64) << 2 });
    let ratio = ((power as u64 + (1 << 10)) >> 11) as i32;
    Saturated::new(if ratio < ONE { ONE } else { ratio }, dean > MOST)
}

/// Whether `tau_us` is shorter than three of `count` − 1 equal intervals that make up `whole_us`;
/// clamps instead of wrapping. No divide.
#[must_use]
pub(crate) const fn is_within_three(tau_us: u64, whole_us: u64, count: u32) -> bool {
    tau_us.saturating_mul(count.saturating_sub(1) as u64) < whole_us.saturating_mul(3)
}
