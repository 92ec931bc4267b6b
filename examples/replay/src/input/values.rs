//! What makes a time and a reading of the cells of a line.

use super::cells::Record;
use super::columns::{Column, Columns, Time};
use super::dates::Dates;
use super::layout::Layout;
use super::number::Decimals;
use super::rows::Timed;
use tidevane::quantity::{Flow, Pressure};
use tidevane::signal::Reading;

/// What is known of how values are written.
pub(super) struct Values {
    pub(super) decimals: Decimals,
    pub(super) dates: Dates,
    /// Lines so far, where samples are counted.
    counted: u64,
}

impl Values {
    pub(super) fn new(layout: &Layout) -> Self {
        Self { decimals: Decimals::new(layout.decimal), dates: Dates::new(layout), counted: 0 }
    }

    /// The time in microseconds and the reading of a line.
    pub(super) fn of(&mut self, line: Record<'_>, columns: &Columns) -> Timed {
        let counted = self.counted;
        self.counted += 1;
        match line.len() {
            fewer if fewer < columns.count => {
                return Err(format!("only {fewer} cells where the header has {}", columns.count));
            }
            more if more > columns.count => {
                return Err(format!("{more} cells where the header has {}", columns.count));
            }
            _ => {}
        }
        let cell = |i: usize| match line.get(i) {
            None => Err(format!("cell {} is not text", i + 1)),
            Some("") => Err(format!("cell {} is empty", i + 1)),
            Some(text) => Ok(text),
        };
        let us = match columns.time {
            Time::Number(column) => match Decimals::plain_micros(line.bytes(column.at), column) {
                Some(us) => us,
                None => self.decimals.micros(cell(column.at)?, column)?,
            },
            Time::Dates { date: None, time } => self.dates.micros(cell(time)?)?,
            Time::Dates { date: Some(date), time } => {
                self.dates.micros_of_two(line.get(date).unwrap_or_default(), cell(time)?)?
            }
            Time::Counted(interval) => (counted as f64 * interval).round() as i128,
        };
        let mut value = |column: Column| match self.decimals.plain(line.bytes(column.at), column) {
            Some(value) => Ok(value),
            None => self.decimals.value(cell(column.at)?, column),
        };
        let flow = Flow::new(value(columns.flow)?);
        Ok((us, Reading { flow, pressure: Pressure::new(value(columns.pressure)?) }))
    }
}
