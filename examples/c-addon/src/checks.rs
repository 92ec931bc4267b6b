//! Whether a setting can be taken, and how it reads back.

use crate::codes::TV_UNSET;
use tidevane::quantity::{Duration, Problem, SettingError, Share};

pub(crate) fn set(value: i32) -> Option<i32> {
    (value != TV_UNSET).then_some(value)
}

pub(crate) fn bits<T>(value: Option<T>, bits: impl FnOnce(T) -> i32) -> i32 {
    value.map_or(TV_UNSET, bits)
}

/// A refusal with the names of the fields here instead of those of the library's setters.
pub(crate) fn named<T>(
    made: Result<T, SettingError>,
    fields: &[(&'static str, &'static str)],
) -> Result<T, SettingError> {
    made.map_err(|error| {
        let field = fields.iter().find(|(setter, _)| *setter == error.parameter);
        SettingError { parameter: field.map_or(error.parameter, |(_, field)| field), ..error }
    })
}

pub(crate) const fn too_large(parameter: &'static str) -> SettingError {
    SettingError { parameter, problem: Problem::TooLarge }
}

pub(crate) fn ms(span: Duration) -> u32 {
    u32::try_from(span.to_us() / 1_000).unwrap_or(u32::MAX)
}

/// The least that a setting may be but for zero, 0.1 of its unit: a number that was not scaled lies below it. Chosen here,
/// no source.
const LEAST: i32 = 6_553;

pub(crate) fn scaled(parameter: &'static str, value: i32) -> Result<(), SettingError> {
    if (1..LEAST).contains(&value) {
        return Err(SettingError { parameter, problem: Problem::TooSmall });
    }
    Ok(())
}

/// A share above the whole is one that was taken for percent.
pub(crate) fn share(parameter: &'static str, value: i32) -> Result<(), SettingError> {
    if value > Share::ONE.to_bits() { Err(too_large(parameter)) } else { Ok(()) }
}

pub(crate) fn on(parameter: &'static str, number: u32) -> Result<bool, SettingError> {
    match number {
        0 => Ok(false),
        1 => Ok(true),
        _ => Err(too_large(parameter)),
    }
}

/// Beyond what its type holds no setting is taken: the largest is refused in the setter's words.
pub(crate) fn short(value: u32) -> u8 {
    u8::try_from(value).unwrap_or(u8::MAX)
}
