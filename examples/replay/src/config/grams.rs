//! A weight in grams, and what is said of one in kilograms.

use crate::text::decimals;
use serde::{Deserialize, Deserializer, de::Error};

/// Of the command line.
pub(crate) fn of_text(text: &str) -> Result<u32, String> {
    text.parse().or_else(|_| of(text.parse().map_err(|_| none())?))
}

/// Of the settings.
pub(super) fn of_entry<'de, D: Deserializer<'de>>(from: D) -> Result<Option<u32>, D::Error> {
    let grams = match toml::Value::deserialize(from)? {
        toml::Value::Integer(whole) => u32::try_from(whole).map_err(|_| none()),
        toml::Value::Float(number) => of(number),
        _ => Err(none()),
    };
    grams.map(Some).map_err(D::Error::custom)
}

fn of(number: f64) -> Result<u32, String> {
    if number.fract() != 0.0 && (0.2..20.0).contains(&number) {
        return Err(format!(
            "the weight is in grams: {number} kg are {} g",
            decimals(number * 1_000.0, 0)
        ));
    }
    let is_whole = number.fract() == 0.0 && (0.0..=f64::from(u32::MAX)).contains(&number);
    if is_whole { Ok(number as u32) } else { Err(none()) }
}

fn none() -> String {
    "the weight is a whole number of grams, 200 to 200000".into()
}
