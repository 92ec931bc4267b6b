//! Numbers of a settings file, as the core takes them.

use super::range::told;
use anyhow::{Result, anyhow, bail};
use fixed::types::I16F16;
use tidevane::quantity::{Duration, Problem, SettingError};

/// Rounded to the nearest step of 1/65 536; what is no number or out of range is an error that names
/// the entry.
pub(crate) fn number(name: &str, value: f64) -> Result<I16F16> {
    if !value.is_finite() {
        bail!("{name} is not a number");
    }
    I16F16::checked_from_num(value)
        .ok_or_else(|| anyhow!("{name} {value} is out of range{}", told(name)))
}

/// A number above a least one, or the same where `is_in`, and no larger than a most.
pub(super) fn between(
    name: &str,
    value: f64,
    least: f64,
    is_in: bool,
    most: f64,
) -> Result<I16F16> {
    let is_above = if is_in { value >= least } else { value > least };
    if !is_above || value > most {
        bail!("{name} {value} is out of range{}", told(name));
    }
    number(name, value)
}

/// Gives an error of the core the name under which the entry is written: what the core calls by the
/// first name stands in the file by the second.
pub(crate) trait Spelled<T> {
    fn spelled(self, names: &[(&str, &str)]) -> Result<T>;
}

impl<T> Spelled<T> for std::result::Result<T, SettingError> {
    fn spelled(self, names: &[(&str, &str)]) -> Result<T> {
        self.map_err(|error| {
            let written = names.iter().find(|(core, _)| *core == error.parameter);
            let entry = written.map_or(error.parameter, |(_, written)| written);
            anyhow!("{entry} {}{}", error.problem, told(entry))
        })
    }
}

/// A time of whole milliseconds, from zero up to eleven days.
pub(crate) fn span(name: &str, seconds: f64) -> Result<Duration> {
    if seconds < 0.0 {
        bail!("{name} {}{}", Problem::Negative, told(name));
    }
    let millis = number(name, seconds)?.to_num::<f64>() * 1e3;
    Ok(Duration::from_millis(millis.round() as u32))
}
