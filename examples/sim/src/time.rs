//! Times: seconds inside, whole microseconds outside.

/// Longest inner step, µs.
pub(crate) const INNER_US: u32 = 500;

/// A time in seconds to the nearest µs.
pub(crate) fn micros(seconds: f64) -> u64 {
    (seconds * 1e6 + 0.5) as u64
}
