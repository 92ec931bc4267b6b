//! What the caller says of a recording's layout; what is not said is looked for in the recording.

use super::calendar::First;
use super::unit::{Role, Unit};
use anyhow::{Context, Result, anyhow, bail};
use clap::Args;
use jiff::tz::TimeZone;
use serde::{Deserialize, Deserializer};

/// As options of the command line, or entries of `[recording]` in the settings.
#[derive(Debug, Default, Clone, Args, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Said {
    /// Which columns hold what, in which unit: time=NAME:UNIT,flow=NAME:UNIT,pressure=NAME:UNIT, and date=NAME
    /// where that stands apart from the time; a number in place of a name counts columns from 1, a minus before
    /// it turns the sign
    #[arg(long, value_name = "ROLE=NAME:UNIT,...", value_delimiter = ',')]
    #[serde(default)]
    columns: Vec<String>,
    /// What stands between cells: comma, semicolon, tab, bar or blank
    #[arg(long, value_name = "WORD")]
    delimiter: Option<String>,
    /// What decimals are written with: point or comma
    #[arg(long, value_name = "WORD")]
    decimal: Option<String>,
    /// The zone of dates and times without one: UTC, or a name such as Europe/Berlin
    #[arg(long, value_name = "ZONE")]
    zone: Option<String>,
    /// What stands for a value that is missing, beside empty cells, dashes, NA, NaN and null; where it is not said,
    /// -999, -9999 and 9999 do
    #[arg(long, value_name = "VALUE,...", value_delimiter = ',', allow_hyphen_values = true)]
    #[serde(default, deserialize_with = "texts")]
    missing: Vec<String>,
    /// What comes first in dates that end with their year: day-first or month-first
    #[arg(long, value_name = "WORD")]
    date_order: Option<String>,
    /// Which of the two it begins in, where a recording begins in the hour that clocks show twice: first or second
    #[arg(long, value_name = "WORD")]
    repeated_hour: Option<String>,
    /// Samples a second, where no column holds the time, or only a rounded one
    #[arg(long, value_name = "N")]
    rate_hz: Option<f64>,
}

/// Which column is meant.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Which {
    Name(String),
    /// From 0.
    Place(usize),
}

/// A column as the caller names it.
#[derive(Debug, Clone)]
pub(crate) struct Named {
    pub(crate) which: Which,
    pub(crate) unit: Option<&'static Unit>,
    pub(crate) turned: bool,
}

/// The layout as far as it is said, checked.
#[derive(Debug, Clone, Default)]
pub struct Layout {
    columns: [Option<Named>; Role::ALL.len()],
    pub(crate) delimiter: Option<u8>,
    pub(crate) decimal: Option<Decimal>,
    pub(crate) zone: Option<TimeZone>,
    pub(crate) missing: Vec<String>,
    pub(crate) date_order: Option<First>,
    pub(crate) repeated_hour: Option<Hour>,
    /// Microseconds from sample to sample.
    pub(crate) interval_us: Option<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Decimal {
    Point,
    Comma,
}

/// One of the two that clocks show alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Hour {
    First,
    Second,
}

/// Delimiters by their words.
pub(crate) const DELIMITERS: [(&str, u8); 5] =
    [("comma", b','), ("semicolon", b';'), ("tab", b'\t'), ("bar", b'|'), ("blank", b' ')];

impl Said {
    /// What is said here, before what is said there.
    pub(crate) fn or(&self, other: &Self) -> Self {
        let columns = if self.columns.is_empty() { &other.columns } else { &self.columns };
        let missing = if self.missing.is_empty() { &other.missing } else { &self.missing };
        Self {
            columns: columns.clone(),
            missing: missing.clone(),
            delimiter: self.delimiter.clone().or_else(|| other.delimiter.clone()),
            decimal: self.decimal.clone().or_else(|| other.decimal.clone()),
            zone: self.zone.clone().or_else(|| other.zone.clone()),
            date_order: self.date_order.clone().or_else(|| other.date_order.clone()),
            repeated_hour: self.repeated_hour.clone().or_else(|| other.repeated_hour.clone()),
            rate_hz: self.rate_hz.or(other.rate_hz),
        }
    }

    /// The layout.
    ///
    /// # Errors
    /// Where a word is not understood, or a thing is said twice.
    pub fn layout(&self) -> Result<Layout> {
        let mut columns = [const { None }; Role::ALL.len()];
        for text in &self.columns {
            let (role, named) = column(text).with_context(|| format!("columns: {text:?}"))?;
            if columns[role as usize].replace(named).is_some() {
                bail!("columns: {} is named twice", role.name());
            }
        }
        let interval_us = match self.rate_hz {
            None => None,
            Some(_) if columns[Role::Time as usize].is_some() => {
                bail!("rate_hz says what the column of the time does")
            }
            Some(hz) if (1.0..=100_000.0).contains(&hz) => Some(1e6 / hz),
            Some(_) => bail!("rate_hz must be 1 to 100000"),
        };
        let zone = |name: &String| {
            TimeZone::get(name).map_err(|_| {
                anyhow!("zone {name:?} is not known; say UTC or a name such as Europe/Berlin")
            })
        };
        Ok(Layout {
            columns,
            delimiter: word("delimiter", self.delimiter.as_deref(), &DELIMITERS)?,
            decimal: word(
                "decimal",
                self.decimal.as_deref(),
                &[("point", Decimal::Point), ("comma", Decimal::Comma)],
            )?,
            zone: self.zone.as_ref().map(zone).transpose()?,
            missing: self.missing.iter().map(|value| value.trim().to_owned()).collect(),
            date_order: word(
                "date_order",
                self.date_order.as_deref(),
                &[("day-first", First::Day), ("month-first", First::Month)],
            )?,
            repeated_hour: word(
                "repeated_hour",
                self.repeated_hour.as_deref(),
                &[("first", Hour::First), ("second", Hour::Second)],
            )?,
            interval_us,
        })
    }
}

impl Layout {
    pub(crate) fn column(&self, role: Role) -> Option<&Named> {
        self.columns[role as usize].as_ref()
    }

    /// Whether every column that is needed is counted and has its unit, so that no name is needed.
    pub(crate) fn is_counted(&self) -> bool {
        let counted = |role| {
            let named = self.column(role).filter(|named| matches!(named.which, Which::Place(_)));
            named.is_some_and(|named| named.unit.is_some() || role == Role::Time)
        };
        let timed = counted(Role::Time) || self.interval_us.is_some();
        timed && counted(Role::Flow) && counted(Role::Pressure)
    }
}

/// One of `--columns`: `flow=Fluss:L/min`.
fn column(text: &str) -> Result<(Role, Named)> {
    let (role, rest) = text.split_once('=').context("no = in it")?;
    let role = Role::ALL.into_iter().find(|known| known.name() == role.trim());
    let role = role.context("a column is time, flow, pressure or date")?;
    // What stands behind a last colon is a unit, or part of the name.
    let (name, unit) = match rest.rsplit_once(':') {
        Some((name, word)) => match role.unit(word) {
            Some(unit) => (name, Some(unit)),
            None => bail!("{word:?} is no unit of {}: {}", role.name(), role.unit_names()),
        },
        None => (rest, None),
    };
    let name = name.trim();
    let (name, turned) = match name.strip_prefix('-') {
        Some(name) if matches!(role, Role::Flow | Role::Pressure) => (name, true),
        _ => (name, false),
    };
    let which = match name.parse::<usize>() {
        Ok(0) => bail!("columns are counted from 1"),
        Ok(n) => Which::Place(n - 1),
        Err(_) if name.is_empty() => bail!("a name is missing"),
        Err(_) => Which::Name(name.into()),
    };
    Ok((role, Named { which, unit, turned }))
}

/// Numbers or words, as texts.
fn texts<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<String>, D::Error> {
    let values = Vec::<toml::Value>::deserialize(from)?;
    let text = |value| match value {
        toml::Value::String(text) => text,
        other => other.to_string(),
    };
    Ok(values.into_iter().map(text).collect())
}

fn word<T: Copy>(what: &str, said: Option<&str>, words: &[(&str, T)]) -> Result<Option<T>> {
    let Some(said) = said else { return Ok(None) };
    match words.iter().find(|(word, _)| *word == said) {
        Some((_, meant)) => Ok(Some(*meant)),
        None => {
            let words: Vec<_> = words.iter().map(|(word, _)| *word).collect();
            bail!("{what} {said:?} is none of {}", words.join(", "))
        }
    }
}
