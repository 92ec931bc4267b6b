//! What makes a time and a reading of the cells of a line.

use super::beside::Beside;
use super::cells::Record;
use super::columns::{Column, Columns, Time};
use super::dates::Dates;
use super::layout::Layout;
use super::missing::Missing;
use super::number::Decimals;
use super::rows::Timed;
use tidevane::quantity::{Flow, Pressure};
use tidevane::signal::Reading;

/// What is known of how values are written.
pub(super) struct Values {
    pub(super) decimals: Decimals,
    pub(super) dates: Dates,
    pub(super) missing: Missing,
    beside: Beside,
    /// Of times that stand beside a rate that was told: what they lack is no fault.
    beside_dates: Dates,
    /// How many lines came before.
    pub(super) lines: u64,
}

impl Values {
    pub(super) fn new(layout: &Layout) -> Self {
        Self {
            decimals: Decimals::new(layout.decimal),
            dates: Dates::new(layout),
            missing: Missing::new(layout),
            beside: Beside::default(),
            beside_dates: Dates::new(layout),
            lines: 0,
        }
    }

    /// The time in microseconds and the reading of a line.
    pub(super) fn of(&mut self, line: Record<'_>, columns: &Columns) -> Timed {
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
            None => Err(no_text(i)),
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
            Time::Counted(interval) => (self.lines as f64 * interval).round() as i128,
        };
        let beside = columns.beside.and_then(|time| match time {
            Time::Number(column) => self.decimals.micros(line.get(column.at)?, column).ok(),
            Time::Dates { date: None, time } => self.beside_dates.micros(line.get(time)?).ok(),
            Time::Dates { date: Some(date), time } => {
                self.beside_dates.micros_of_two(line.get(date)?, line.get(time)?).ok()
            }
            Time::Counted(_) => None,
        });
        if let Some(us) = beside {
            self.beside.take(us, self.lines);
        }
        let mut value = |column: Column| match self.decimals.plain(line.bytes(column.at), column) {
            Some(value) => self.missing.number(value.to_num(), column).map(|()| value),
            None => {
                let text = line.get(column.at).ok_or_else(|| no_text(column.at))?;
                self.missing.cell(text, column)?;
                self.decimals.value(text, column, &mut self.missing)
            }
        };
        let flow = Flow::new(value(columns.flow)?);
        Ok((us, Reading { flow, pressure: Pressure::new(value(columns.pressure)?) }))
    }
}

impl Values {
    /// Why the recording cannot be read by the rate that was told.
    pub(super) fn contradicted(&self, columns: &Columns) -> Option<String> {
        match columns.time {
            Time::Counted(interval) => self.beside.refused(interval),
            Time::Number(_) | Time::Dates { .. } => None,
        }
    }
}

fn no_text(cell: usize) -> String {
    format!("cell {} is not text", cell + 1)
}
