//! Columns and cells of a table.

use crate::text::decimals;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// A moment, in microseconds.
    Time,
    Text,
    Count,
    /// A number that may be unknown, printed with so many decimals.
    Number(usize),
}

/// A column; the unit is empty for words and counts.
#[derive(Debug, Clone, Copy)]
pub struct Column {
    pub(crate) name: &'static str,
    pub(crate) unit: &'static str,
    pub(crate) kind: Kind,
}

impl Column {
    /// Its name, which ends in its unit.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        self.name
    }

    /// Its unit; empty for words and counts.
    #[must_use]
    pub const fn unit(&self) -> &'static str {
        self.unit
    }

    pub(crate) const fn time(name: &'static str) -> Self {
        Self { name, unit: "us", kind: Kind::Time }
    }

    pub(crate) const fn text(name: &'static str) -> Self {
        Self { name, unit: "", kind: Kind::Text }
    }

    pub(crate) const fn count(name: &'static str) -> Self {
        Self { name, unit: "", kind: Kind::Count }
    }

    pub(crate) const fn number(name: &'static str, unit: &'static str, places: usize) -> Self {
        Self { name, unit, kind: Kind::Number(places) }
    }
}

/// What stands in a row under a column, of the column's kind.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell {
    /// A moment, in microseconds.
    Time(u64),
    /// A word.
    Text(String),
    /// A count.
    Count(u64),
    /// A number, or none where it is not known.
    Number(Option<f64>),
}

impl Cell {
    /// As it is printed; empty where it is not known.
    pub(crate) fn text(&self, column: &Column) -> String {
        match (self, column.kind) {
            (Self::Time(n) | Self::Count(n), _) => n.to_string(),
            (Self::Text(text), _) => text.clone(),
            (Self::Number(Some(value)), Kind::Number(places)) => decimals(*value, places),
            (Self::Number(_), _) => String::new(),
        }
    }
}
