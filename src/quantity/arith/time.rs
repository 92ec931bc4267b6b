//! Spans, rates and counts.

use super::{LONGEST_US, SECOND_US, Saturated, clamp};

/// `per_minute` in Q16 from a period; `None` for zero. 60 s ÷ 1 µs clamps.
#[must_use]
pub(crate) const fn per_minute(period_us: u64) -> Option<Saturated<i32>> {
    if period_us == 0 {
        return None;
    }
    let wide = ((60 * SECOND_US as u64) << 16) / period_us;
    Some(if wide > i32::MAX as u64 {
        Saturated::new(i32::MAX, true)
    } else {
        Saturated::exact(wide as i32)
    })
}

/// Microseconds from milliseconds; 2³² × 10³ fits.
#[must_use]
pub(crate) const fn millis_to_us(millis: u32) -> u64 {
    millis as u64 * 1_000
}

/// Microseconds clamped to below 2³¹, the span that [`trapezoid`](super::trapezoid) takes.
pub(crate) const fn short_us(us: u64) -> Saturated<u32> {
    if us > LONGEST_US as u64 {
        Saturated::new(LONGEST_US, true)
    } else {
        Saturated::new(us as u32, false)
    }
}

/// Whole seconds and the milliseconds beyond them, for printing.
#[must_use]
pub(crate) const fn seconds_and_millis(us: u64) -> (u64, u32) {
    (us / SECOND_US as u64, (us % SECOND_US as u64) as u32 / 1_000)
}

/// Microseconds between events that come `rate_q16` (above zero) times a minute, toward zero.
#[must_use]
pub(crate) const fn minute_over(rate_q16: i32) -> u64 {
    if rate_q16 <= 0 { u64::MAX } else { ((60 * SECOND_US as u64) << 16) / rate_q16 as u64 }
}

/// Ratio of two spans in Q16, exact, toward zero; clamps and says so; `None` where either is zero.
#[must_use]
pub(crate) const fn span_ratio_q16(
    numerator_us: u64,
    denominator_us: u64,
) -> Option<Saturated<i32>> {
    if numerator_us == 0 { None } else { exact_ratio_q16(numerator_us, denominator_us) }
}

/// Ratio of two numbers in Q16, toward zero; clamps and says so; `None` where the denominator is zero. Two wide
/// divides and a round for each bit of the fraction where the numerator is no smaller than 2⁴⁸, else one.
#[must_use]
pub(crate) const fn exact_ratio_q16(numerator: u64, denominator: u64) -> Option<Saturated<i32>> {
    if denominator == 0 {
        return None;
    }
    let bits = if numerator < 1 << 48 {
        (numerator << 16) / denominator
    } else {
        let whole = numerator / denominator;
        if whole > i16::MAX as u64 {
            return Some(Saturated::new(i32::MAX, true));
        }
        let (mut bits, mut rest, mut places) = (whole, numerator % denominator, 16_u32);
        while places > 0 {
            // Doubled, the rest may not fit; less the denominator it does.
            let carries = rest > u64::MAX >> 1;
            (rest, bits, places) = (rest << 1, bits << 1, places - 1);
            if carries || rest >= denominator {
                (rest, bits) = (rest.wrapping_sub(denominator), bits | 1);
            }
        }
        bits
    };
    Some(if bits > i32::MAX as u64 {
        Saturated::new(i32::MAX, true)
    } else {
        Saturated::exact(bits as i32)
    })
}

/// The share in Q16 that a part is of a whole span, toward zero: by a 32-bit divide below 65 ms. All of it
/// where the part is no smaller.
#[must_use]
pub(crate) const fn short_share_q16(part_us: u64, whole_us: u64) -> i32 {
    if part_us >= whole_us {
        return super::ONE;
    }
    if whole_us < 1 << 16 {
        // part < whole < 2¹⁶
        return (((part_us as u32) << 16) / whole_us as u32) as i32;
    }
    match span_ratio_q16(part_us, whole_us) {
        Some(share) => share.value,
        None => 0,
    }
}

/// An eighth, toward zero.
#[must_use]
pub(crate) const fn eighth_u64(x: u64) -> u64 {
    x >> 3
}

/// A twentieth, toward zero.
#[must_use]
pub(crate) const fn twentieth_u64(x: u64) -> u64 {
    x / 20
}

/// Mean of a sum of microseconds, toward zero; `None` for none.
#[must_use]
pub(crate) const fn mean_us(sum_us: u64, count: u32) -> Option<u64> {
    if count == 0 { None } else { Some(sum_us / count as u64) }
}

/// A count as a share of another in Q16, toward zero; `None` where there is nothing to share.
#[must_use]
pub(crate) const fn count_share(part: u64, whole: u64) -> Option<i32> {
    if whole == 0 || part > 1 << 46 || whole > 1 << 46 {
        return None;
    }
    Some(clamp(((part << 16) / whole) as i64).value)
}
