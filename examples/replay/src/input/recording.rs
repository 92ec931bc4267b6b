//! Reads recordings, line by line.

use super::rows::Rows;
use crate::text::printable;
use anyhow::{Context, Result, bail};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;
use tidevane::quantity::Moment;
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
    progress: ProgressBar,
}

/// One line: a reading, or one that could not be read.
pub(crate) enum Line {
    Good(Moment, Reading),
    Bad,
}

impl Recording {
    /// Opens a file, or standard input for `-`, and reads its header.
    pub(crate) fn open(path: &Path, strict: bool) -> Result<Self> {
        let name = if path.as_os_str() == "-" {
            "standard input".into()
        } else {
            path.display().to_string()
        };
        let (input, length): (Box<dyn Read>, _) = if path.as_os_str() == "-" {
            (Box::new(io::stdin()), None)
        } else {
            let file = File::open(path).with_context(|| format!("cannot open {name}"))?;
            let meta = file.metadata().with_context(|| format!("cannot open {name}"))?;
            if meta.is_dir() {
                bail!("{name} is a folder, not a recording");
            }
            (Box::new(file), meta.is_file().then_some(meta.len()))
        };
        let progress = progress(length);
        let rows = Rows::new(progress.wrap_read(input), &name)?;
        Ok(Self { name, rows, strict, bad_lines: 0, good_lines: 0, progress })
    }

    /// The next line; `None` at the end.
    pub(crate) fn next(&mut self) -> Result<Option<Line>> {
        let first = self.good_lines == 0;
        let row = self.rows.next().with_context(|| format!("cannot read {}", self.name))?;
        let Some(row) = row else {
            self.progress.finish_and_clear();
            return Ok(None);
        };
        match row {
            Ok((at, reading)) => {
                self.good_lines += 1;
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

    /// The file and the line read last.
    pub(crate) fn place(&self) -> String {
        format!("{}:{}", self.name, self.rows.number())
    }

    /// What may be wrong with the recording as a whole.
    pub(crate) fn remark(&self) -> Option<&'static str> {
        (2 * self.rows.wider() > self.good_lines + self.bad_lines).then_some(
            "most lines have more cells than the header: are decimals written with a comma \
             instead of a point?",
        )
    }

    fn say(&self, what: &str) {
        self.progress.suspend(|| {
            eprintln!("{}: {}", printable(&self.place()), printable(what));
        });
    }
}

fn progress(length: Option<u64>) -> ProgressBar {
    // indicatif draws on standard error, and only where that is a terminal.
    let Some(length) = length else { return ProgressBar::hidden() };
    let style =
        ProgressStyle::with_template("{bar:30} {percent:>3} % of {total_bytes}, {eta} left");
    ProgressBar::new(length).with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()))
}
