//! The core's numbers as floats.

use tidevane::breath::Breath;

/// Raw steps of 1/65 536 as a float.
#[must_use]
pub fn float(bits: i32) -> f64 {
    f64::from(bits) / 65_536.0
}

/// Inspired volume, mL.
#[must_use]
pub fn inspired(breath: &Breath) -> f64 {
    float(breath.inspired.value.to_bits())
}

/// Expired volume, mL.
#[must_use]
pub fn expired(breath: &Breath) -> f64 {
    float(breath.expired.value.to_bits())
}
