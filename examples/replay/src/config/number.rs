//! Numbers of a settings file, as the core takes them.

use anyhow::{Result, anyhow, bail};
use fixed::types::I16F16;

/// Rounded to the nearest step of 1/65 536; what is no number or out of range is an error that names
/// the entry.
pub(crate) fn number(name: &str, value: f64) -> Result<I16F16> {
    if !value.is_finite() {
        bail!("{name} is not a number");
    }
    I16F16::checked_from_num(value).ok_or_else(|| anyhow!("{name} {value} is out of range"))
}
