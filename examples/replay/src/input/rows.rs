//! The rows of a recording, whatever it is written in: when, and what was read, or why a row says
//! neither.

use super::clock::Clock;
use super::columns::Columns;
use super::delimited::Delimited;
use super::kind;
use super::layout::Layout;
use anyhow::Result;
use std::io::Read;
use std::path::Path;
use tidevane::quantity::Instant;
use tidevane::signal::Reading;

/// One row: a moment and a reading, or the reason why there is none.
pub type Row = Result<(Instant, Reading), String>;

/// A row with its time in microseconds, as the recording has it.
pub(crate) type Timed = Result<(i128, Reading), String>;

/// What a recording is read from.
pub(crate) trait Body {
    /// The next row; `None` at the end.
    fn next(&mut self) -> Result<Option<Timed>>;
    /// The number of the line or sample read last, from 1.
    fn number(&self) -> u64;
    fn columns(&self) -> &Columns;
    /// Where the line or sample read last stands in a recording of this name.
    fn place(&self, name: &str) -> String {
        format!("{name}: sample {}", self.number())
    }
    /// What was found of its layout without being told.
    fn guessed(&self) -> Vec<String> {
        self.columns().guessed.clone()
    }
    /// How many rows so far have something that stands for none.
    fn missing(&self) -> u64 {
        0
    }
    /// What may be wrong with it as a whole.
    fn remark(&self) -> Option<&'static str> {
        None
    }
}

/// The rows of a recording, in its order.
#[expect(missing_debug_implementations, reason = "its input has none")]
pub struct Rows {
    body: Box<dyn Body>,
    clock: Clock,
}

/// Every row of a file of any kind that is read, each with its number; or why there are none.
///
/// # Errors
/// Where it cannot be read to its end, or does not hold what is needed, in words.
pub fn read_all(path: &Path) -> Result<Vec<(u64, Row)>, String> {
    let all = || {
        let body = kind::open(path, &Layout::default(), &indicatif::ProgressBar::hidden())?;
        let mut rows = Rows::of(body);
        let mut all = Vec::new();
        while let Some(row) = rows.next()? {
            all.push((rows.number(), row));
        }
        anyhow::Ok(all)
    };
    all().map_err(|why| format!("{why:#}"))
}

impl Rows {
    /// Of a text; reads its header.
    ///
    /// # Errors
    /// Where the text cannot be read, is empty, or its header does not name what is needed; `name`
    /// stands for it in the reason.
    pub fn new(input: impl Read + 'static, layout: &Layout, name: &str) -> Result<Self> {
        Ok(Self::of(Box::new(Delimited::new(Box::new(input), layout, name)?)))
    }

    pub(crate) fn of(body: Box<dyn Body>) -> Self {
        Self { body, clock: Clock::default() }
    }

    /// The next row; `None` at the end. Blank lines are no rows.
    ///
    /// # Errors
    /// Where the recording cannot be read on.
    #[expect(clippy::should_implement_trait, reason = "a recording may fail to be read at all")]
    pub fn next(&mut self) -> Result<Option<Row>> {
        let Some(row) = self.body.next()? else { return Ok(None) };
        Ok(Some(row.and_then(|(us, reading)| {
            let at = self.clock.moment(us);
            Ok((at.ok_or_else(|| format!("time {us} us is out of range"))?, reading))
        })))
    }

    /// The number of the line or sample read last, from 1.
    #[must_use]
    pub fn number(&self) -> u64 {
        self.body.number()
    }

    pub(crate) fn body(&self) -> &dyn Body {
        &*self.body
    }

    /// By how many microseconds a recording that begins before zero is moved.
    pub(crate) fn shift(&self) -> Option<i128> {
        self.clock.shift()
    }
}
