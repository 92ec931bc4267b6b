//! Numbers as text.

use super::columns::Column;
use super::layout::Decimal;
use crate::text::quoted;
use fixed::types::I16F16;
use std::borrow::Cow;

/// What decimals are written with: as the caller says, or as the first of them is.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Decimals {
    pub(crate) mark: Option<Decimal>,
    pub(crate) told: bool,
}

impl Decimals {
    pub(crate) fn new(told: Option<Decimal>) -> Self {
        Self { mark: told, told: told.is_some() }
    }

    /// The number with a point, or why it cannot be one.
    fn pointed<'a>(&mut self, text: &'a str) -> Result<Cow<'a, str>, String> {
        let mark = match (text.contains('.'), text.contains(',')) {
            (false, false) => return Ok(text.into()),
            (true, false) => Decimal::Point,
            (false, true) => Decimal::Comma,
            (true, true) => return Err(format!("{} is not a number", quoted(text))),
        };
        if *self.mark.get_or_insert(mark) != mark {
            let (written, other) = match mark {
                Decimal::Point => ("comma", "point"),
                Decimal::Comma => ("point", "comma"),
            };
            return Err(format!(
                "{} is not a number where decimals are written with a {written}; say --decimal {other} \
                 where they are not",
                quoted(text)
            ));
        }
        Ok(match mark {
            Decimal::Point => text.into(),
            Decimal::Comma => text.replacen(',', ".", 1).into(),
        })
    }

    /// A number in its unit, rounded to the nearest 1/65 536.
    pub(crate) fn value(&mut self, text: &str, column: Column) -> Result<I16F16, String> {
        let text = self.pointed(text)?;
        if column.factor == 1.0
            && let Ok(value) = text.parse::<I16F16>()
        {
            return Ok(value);
        }
        let value = float(&text)? * column.factor;
        I16F16::checked_from_num(value).ok_or_else(|| format!("{} is out of range", quoted(&text)))
    }

    /// A time in microseconds.
    pub(crate) fn micros(&mut self, text: &str, column: Column) -> Result<i128, String> {
        if column.factor == 1.0 {
            let whole = text
                .parse::<i64>()
                .map(i128::from)
                .or_else(|_| text.parse::<u64>().map(i128::from));
            if let Ok(us) = whole {
                return Ok(us);
            }
        }
        let text = self.pointed(text)?;
        let us = float(&text).map_err(|why| format!("time {why}"))? * column.factor;
        whole_micros(us).ok_or_else(|| format!("time {} is out of range", quoted(&text)))
    }
}

/// To the nearest; `None` beyond 2^53 µs, 285 years, where microseconds are no longer exact.
pub(crate) fn whole_micros(us: f64) -> Option<i128> {
    (us.abs() <= 9_007_199_254_740_992.0).then(|| us.round() as i128)
}

fn float(text: &str) -> Result<f64, String> {
    let value = text.parse::<f64>().ok().filter(|value| !value.is_nan());
    value.ok_or_else(|| format!("{} is not a number", quoted(text)))
}
