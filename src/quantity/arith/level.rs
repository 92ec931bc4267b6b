//! Logarithms, percents and periods, for alarms.

use super::exact_ratio_q16;

/// How far into the current of many equal periods; all of it where the period is zero.
#[must_use]
#[cfg(any(test, feature = "embedded-hal"))]
pub(crate) const fn within_period(us: u64, period_us: u64) -> u64 {
    if period_us == 0 { us } else { us % period_us }
}

/// Events an hour in Q16, toward zero, clamped; `None` for no time. 2³² × 3.6·10⁹ fits `u64`.
#[must_use]
pub(crate) const fn per_hour_q16(count: u32, span_us: u64) -> Option<i32> {
    match exact_ratio_q16(count as u64 * 3_600_000_000, span_us) {
        Some(r) => Some(r.value),
        None => None,
    }
}

/// Milliseconds of a moment, toward zero, wrapping after 49.7 days.
#[must_use]
pub(crate) const fn wrapping_millis(us: u64) -> u32 {
    ((us / 1_000) & 0xffff_ffff) as u32
}

/// Bins of [`log_bin`].
pub(crate) const LOG_BINS: usize = 64;

/// The bin of a Q16 value on a grid of eight equal steps an octave from 0.5 on; 0 below that, the
/// last from 112 on.
#[must_use]
pub(crate) const fn log_bin(bits: i32) -> usize {
    if bits < 1 << 15 {
        return 0;
    }
    // bits in [2^15, 2^31): octave 0 ..= 15, then the three bits below the top one.
    let octave = 16 - bits.leading_zeros() as usize;
    let step = (bits >> (octave + 12)) as usize & 7;
    let bin = 1 + octave * 8 + step;
    if bin >= LOG_BINS { LOG_BINS - 1 } else { bin }
}

/// The lower edge of a bin of [`log_bin`], exact; zero for bin 0.
#[must_use]
pub(crate) const fn log_edge(bin: usize) -> i32 {
    if bin == 0 {
        return 0;
    }
    let from = if bin >= LOG_BINS { LOG_BINS - 2 } else { bin - 1 };
    // (8 ..= 15) << (12 ..= 19) < 2^23
    ((8 + from % 8) as i32) << (from / 8 + 12)
}

/// A number with the one bit of a place set; none from place 32 on.
#[must_use]
pub(crate) const fn bit(place: usize) -> u32 {
    if place > 31 { 0 } else { 1 << place }
}

/// All bits one place up, and a new one at the lowest; the highest falls out.
#[must_use]
pub(crate) const fn push_bit(bits: u32, low: bool) -> u32 {
    (bits << 1) | low as u32
}
