//! Recordings as text: lines of cells.

use super::cells::Cells;
use super::columns::Columns;
use super::head::{Head, is_comment, too_long};
use super::header::Header;
use super::layout::{DELIMITERS, Decimal, Layout};
use super::lines::{Lines, Raw};
use super::rows::{Body, Timed};
use super::values::Values;
use crate::text::quoted;
use anyhow::{Context, Result, bail};
use std::io::Read;

/// The rows of a text, after its header.
pub(crate) struct Delimited {
    lines: Lines,
    cut: Cut,
    delimiter: u8,
    /// What is odd about the head, in words.
    odd: Vec<String>,
    comments: bool,
    layout: Layout,
}

/// What makes a row of a line.
struct Cut {
    cells: Cells,
    columns: Columns,
    values: Values,
    /// How many lines had more cells than the header.
    wider: u64,
}

impl Delimited {
    /// Reads the header.
    pub(crate) fn new(input: Box<dyn Read>, layout: &Layout, name: &str) -> Result<Self> {
        let mut lines = Lines::new(input).with_context(|| name.to_owned())?;
        let Head { header, has_comments, odd } = Head::find(&mut lines, layout, name)?;
        Ok(Self {
            cut: Cut {
                cells: Cells::new(header.delimiter),
                columns: header.columns,
                values: Values::new(layout),
                wider: 0,
            },
            delimiter: header.delimiter,
            odd,
            comments: has_comments,
            layout: layout.clone(),
            lines,
        })
    }
}

impl Cut {
    fn row(&mut self, line: &[u8]) -> Timed {
        let row = self.cells.split(line).and_then(|cells| {
            self.wider += u64::from(cells.len() > self.columns.count);
            self.values.of(cells, &self.columns)
        });
        self.values.lines += 1;
        row
    }

    /// Why what follows cannot be read on, where a line that is no row is a header of other columns or units.
    fn begins_anew(&self, line: &[u8], layout: &Layout) -> Option<String> {
        if layout.is_counted() || !line.iter().any(u8::is_ascii_alphabetic) {
            return None;
        }
        let header = Header::of(line, None, Some(self.cells.delimiter()), layout);
        let is_other = match &header {
            Ok(header) => !header.columns.read_alike(&self.columns),
            // It names two of what is needed.
            Err(refused) => refused.likeness.0 >= 2,
        };
        is_other.then(|| {
            format!(
                "here stands another header, with other columns or units than the first: {}. Cut the recording in two here",
                quoted(&String::from_utf8_lossy(line))
            )
        })
    }
}

impl Body for Delimited {
    fn next(&mut self) -> Result<Option<Timed>> {
        let row = loop {
            match self.lines.next()? {
                None if self.cut.values.decimals.are_ambiguous() => bail!(
                    "numbers have three digits behind a mark or none: do marks stand between thousands? If they are \
                     decimals say --decimal point or --decimal comma; thousands are not read"
                ),
                None => {
                    let values = &self.cut.values;
                    let missing = values.missing.refused(values.lines);
                    match missing.or_else(|| values.contradicted(&self.cut.columns)) {
                        Some(why) => bail!(why),
                        None => return Ok(None),
                    }
                }
                Some(Raw::TooLong) => {
                    self.cut.values.lines += 1;
                    break Err(too_long());
                }
                Some(Raw::Line(line)) if is_comment(line) => self.comments = true,
                Some(Raw::Line(line)) => {
                    let row = self.cut.row(line);
                    if row.is_err()
                        && let Some(why) = self.cut.begins_anew(line, &self.layout)
                    {
                        bail!("line {}: {why}", self.lines.number);
                    }
                    break row;
                }
            }
        };
        if let Some(why) = self.cut.values.dates.refused() {
            bail!("line {}: {why}", self.lines.number);
        }
        Ok(Some(row))
    }

    fn number(&self) -> u64 {
        self.lines.number
    }

    fn columns(&self) -> &Columns {
        &self.cut.columns
    }

    fn place(&self, name: &str) -> String {
        format!("{name}:{}", self.lines.number)
    }

    fn guessed(&self) -> Vec<String> {
        let mut guessed = self.odd.clone();
        if self.delimiter != b',' {
            let word = DELIMITERS.iter().find(|(_, byte)| *byte == self.delimiter);
            guessed.push(format!("{} between cells", word.map_or("", |(word, _)| word)));
        }
        if self.cut.values.decimals.mark == Some(Decimal::Comma) && !self.cut.values.decimals.told {
            guessed.push("decimal comma".into());
        }
        if self.comments {
            guessed.push("lines that begin with # or % are comments".into());
        }
        guessed.extend(self.cut.columns.guessed.iter().cloned());
        guessed.extend(self.cut.values.dates.guessed());
        guessed
    }

    fn missing(&self) -> u64 {
        self.cut.values.missing.count
    }

    fn remark(&self) -> Option<&'static str> {
        (2 * self.cut.wider > self.cut.values.lines).then_some(
            "most lines have more cells than the header: are decimals written with a comma \
             instead of a point?",
        )
    }
}
