//! Reads recordings, line by line.

use super::columns::Columns;
use super::kind;
use super::layout::Layout;
use super::rows::Rows;
use crate::text::printable;
use anyhow::{Context, Result, bail};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::path::Path;
use tidevane::quantity::Instant;
use tidevane::signal::Reading;

/// How many bad lines are printed in full.
const BAD_LINES_SHOWN: u64 = 5;

/// A recording under way.
pub(crate) struct Recording {
    pub(crate) name: String,
    rows: Rows,
    strict: bool,
    pub(crate) bad_lines: u64,
    good_lines: u64,
    /// The latest time, and how many came that lie before it.
    last: Option<Instant>,
    backward: u64,
    /// The row before, how many had its time, and how many were the same: those are left out.
    before: Option<(Instant, Reading)>,
    still: u64,
    pub(crate) repeated: u64,
    ended: bool,
    progress: ProgressBar,
    /// Nothing is said on standard error.
    mute: bool,
}

/// One line: a reading, or one that could not be read.
pub(crate) enum Line {
    Good(Instant, Reading),
    Bad,
}

impl Recording {
    /// Opens a file, or standard input for `-`, and reads its header.
    pub(crate) fn open(path: &Path, layout: &Layout, strict: bool) -> Result<Self> {
        let name = kind::name(path);
        let progress = progress();
        let rows = Rows::of(kind::open(path, layout, &progress)?);
        Ok(Self::new(rows, name, strict, progress))
    }

    /// Of rows that a caller hands over; says nothing.
    #[cfg(feature = "arrow")]
    pub(crate) fn of_rows(rows: Rows, name: &str, strict: bool) -> Self {
        Self { mute: true, ..Self::new(rows, name.into(), strict, ProgressBar::hidden()) }
    }

    fn new(rows: Rows, name: String, strict: bool, progress: ProgressBar) -> Self {
        Self {
            name,
            rows,
            strict,
            bad_lines: 0,
            good_lines: 0,
            last: None,
            backward: 0,
            before: None,
            still: 0,
            repeated: 0,
            ended: false,
            progress,
            mute: false,
        }
    }

    /// The next line; `None` at the end.
    pub(crate) fn next(&mut self) -> Result<Option<Line>> {
        let first = self.good_lines == 0;
        let row = loop {
            let row = self.rows.next().with_context(|| format!("cannot read {}", self.name))?;
            match row {
                Some(Ok(row)) if self.before == Some(row) && !self.strict => self.repeated += 1,
                row => break row,
            }
        };
        let Some(row) = row else {
            // It is asked again by who looks ahead.
            if !std::mem::replace(&mut self.ended, true) {
                self.progress.finish_and_clear();
                self.say_at_end();
            }
            return Ok(None);
        };
        match row {
            Ok((at, reading)) => {
                self.good_lines += 1;
                let is_still = self.before.replace((at, reading)).is_some_and(|(was, _)| was == at);
                self.still += u64::from(is_still);
                self.backward += u64::from(!is_still && self.last.is_some_and(|last| at <= last));
                self.last = self.last.max(Some(at));
                if first {
                    self.say_guessed();
                }
                if first && let Some(shift) = self.rows.shift() {
                    let seconds = shift as f64 / 1e6;
                    self.say(&format!("times begin at -{seconds} s; all are moved to begin at 0"));
                }
                Ok(Some(Line::Good(at, reading)))
            }
            Err(reason) if self.strict => bail!("{}: {reason}", self.place()),
            Err(reason) => {
                self.bad_lines += 1;
                if self.bad_lines <= BAD_LINES_SHOWN {
                    self.say(&format!("{reason}; taken as a gap"));
                }
                Ok(Some(Line::Bad))
            }
        }
    }

    /// Draws no progress of its own.
    pub(crate) fn hide(&mut self) {
        self.progress.set_draw_target(ProgressDrawTarget::hidden());
    }

    /// Says nothing on standard error.
    pub(crate) fn mute(&mut self) {
        self.hide();
        self.mute = true;
    }

    /// The file and the line read last.
    pub(crate) fn place(&self) -> String {
        self.rows.body().place(&self.name)
    }

    pub(crate) fn columns(&self) -> &Columns {
        self.rows.body().columns()
    }

    /// What may be wrong with the recording as a whole.
    pub(crate) fn remark(&self) -> Option<&'static str> {
        self.rows.body().remark()
    }

    /// What is lost is counted, so that an empty table is no riddle.
    fn say_at_end(&self) {
        let all = self.good_lines + self.bad_lines;
        if self.bad_lines > BAD_LINES_SHOWN {
            let missing = match self.rows.body().missing() {
                0 => String::new(),
                missing => format!(", {missing} for want of a value"),
            };
            let bad = self.bad_lines;
            self.print(&format!("{}: {bad} of {all} could not be read{missing}", self.name));
        }
        let is_rounded = 100 * self.still > all;
        if self.repeated > 0 && !is_rounded {
            let rows = match self.repeated {
                1 => "one row is the same as the one before it, and is".to_owned(),
                n => format!("{n} rows are the same as the one before, time and all, and are"),
            };
            self.print(&format!("{}: {rows} left out", self.name));
        }
        let still = self.still + self.repeated;
        if is_rounded {
            self.print(&format!(
                "{}: {still} of {} times are that of the row before: are they rounded? --rate-hz N, with the true rate, \
                 counts samples instead",
                self.name,
                all + self.repeated
            ));
        }
        if 100 * self.backward > all {
            self.print(&format!(
                "{}: {} of {all} times lie before one that came earlier: sort the rows by time, or cut the recording \
                 where its clock begins anew",
                self.name, self.backward
            ));
        }
    }

    /// A layout that was found is said, so that a wrong one is seen.
    fn say_guessed(&self) {
        let guessed = self.rows.body().guessed();
        if !guessed.is_empty() {
            self.print(&format!("{}: read with {}", self.name, guessed.join("; ")));
        }
    }

    fn say(&self, what: &str) {
        self.print(&format!("{}: {what}", self.place()));
    }

    fn print(&self, text: &str) {
        if !self.mute {
            self.progress.suspend(|| eprintln!("{}", printable(text)));
        }
    }
}

/// Of unknown length until a reader knows it.
fn progress() -> ProgressBar {
    // indicatif draws on standard error, and only where that is a terminal.
    let style =
        ProgressStyle::with_template("{bar:30} {percent:>3} % of {total_bytes}, {eta} left");
    ProgressBar::no_length().with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()))
}
