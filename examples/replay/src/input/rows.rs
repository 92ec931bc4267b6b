//! The rows of a recording: when, and what was read, or why a line says neither.

use super::cells::Cells;
use super::clock::Clock;
use super::columns::Columns;
use super::lines::{LONGEST, Lines, Raw};
use anyhow::{Context, Result, anyhow, bail};
use std::io::{self, Read};
use tidevane::quantity::Moment;
use tidevane::signal::Reading;

/// One row: a moment and a reading, or the reason why the line holds none.
pub type Row = Result<(Moment, Reading), String>;

/// The rows of a text, after its header.
#[expect(missing_debug_implementations, reason = "its input has none")]
pub struct Rows {
    lines: Lines,
    cells: Cells,
    columns: Columns,
    clock: Clock,
    wider: u64,
}

impl Rows {
    /// Reads the header.
    ///
    /// # Errors
    /// Where the text cannot be read, is empty, or its header does not name what is needed; `name`
    /// stands for it in the reason.
    pub fn new(input: impl Read + 'static, name: &str) -> Result<Self> {
        let mut lines = Lines::new(input).with_context(|| name.to_owned())?;
        let mut cells = Cells::new();
        let columns = match lines.next().with_context(|| format!("cannot read {name}"))? {
            None => bail!("{name} is empty"),
            Some(Raw::TooLong) => Err(too_long()),
            Some(Raw::Line(line)) => cells.split(line).and_then(Columns::of),
        };
        let columns = columns.map_err(|reason| anyhow!("{name}:{}: {reason}", lines.number))?;
        Ok(Self { lines, cells, columns, clock: Clock::default(), wider: 0 })
    }

    /// The next row; `None` at the end. Blank lines are no rows.
    ///
    /// # Errors
    /// Where the text cannot be read on.
    #[expect(clippy::should_implement_trait, reason = "the text may fail to be read at all")]
    pub fn next(&mut self) -> io::Result<Option<Row>> {
        Ok(match self.lines.next()? {
            None => None,
            Some(Raw::TooLong) => Some(Err(too_long())),
            Some(Raw::Line(line)) => Some(self.cells.split(line).and_then(|cells| {
                self.wider += u64::from(cells.len() > self.columns.count);
                let (us, reading) = self.columns.parse(cells)?;
                let at = self.clock.moment(us);
                Ok((at.ok_or_else(|| format!("time {us} us is out of range"))?, reading))
            })),
        })
    }

    /// The number of the line read last, from 1.
    #[must_use]
    pub fn number(&self) -> u64 {
        self.lines.number
    }

    /// How many lines had more cells than the header.
    pub(crate) fn wider(&self) -> u64 {
        self.wider
    }

    /// By how many microseconds a recording that begins before zero is moved.
    pub(crate) fn shift(&self) -> Option<i128> {
        self.clock.shift()
    }
}

fn too_long() -> String {
    format!("the line is longer than {LONGEST} bytes")
}
