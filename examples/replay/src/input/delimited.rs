//! Recordings as text: lines of cells.

use super::cells::{Cells, Record};
use super::columns::{Column, Columns, Label, Time};
use super::dates::Dates;
use super::layout::{DELIMITERS, Decimal, Layout};
use super::lines::{LONGEST, Lines, Raw};
use super::number::Decimals;
use super::rows::{Body, Timed};
use anyhow::{Context, Result, anyhow, bail};
use std::io::Read;
use tidevane::quantity::{Flow, Pressure};
use tidevane::signal::Reading;

/// A line that begins so says something about the recording.
const COMMENTS: [u8; 2] = *b"#%";

/// The rows of a text, after its header.
pub(crate) struct Delimited {
    lines: Lines,
    cut: Cut,
    delimiter: u8,
    /// The first line holds a sample: columns are counted, and there is no header.
    first: Option<Vec<u8>>,
    comments: bool,
}

/// What makes a row of a line.
struct Cut {
    cells: Cells,
    columns: Columns,
    values: Values,
    rows: u64,
    /// How many lines had more cells than the header.
    wider: u64,
}

/// What makes a time and a reading of the cells of a line.
struct Values {
    decimals: Decimals,
    dates: Dates,
    /// Lines so far, where samples are counted.
    counted: u64,
}

impl Delimited {
    /// Reads the header.
    pub(crate) fn new(input: Box<dyn Read>, layout: &Layout, name: &str) -> Result<Self> {
        let mut lines = Lines::new(input).with_context(|| name.to_owned())?;
        let mut comments = false;
        let header = loop {
            match lines.next().with_context(|| format!("cannot read {name}"))? {
                None => bail!("{name} is empty"),
                Some(Raw::TooLong) => bail!("{name}:{}: {}", lines.number, too_long()),
                Some(Raw::Line(line)) if is_comment(line) => comments = true,
                Some(Raw::Line(line)) => break line.to_vec(),
            }
        };
        let found = Head::find(&header, layout);
        let head = found.map_err(|reason| anyhow!("{name}:{}: {reason}", lines.number))?;
        Ok(Self {
            cut: Cut {
                cells: Cells::new(head.delimiter),
                columns: head.columns,
                values: Values::new(layout),
                rows: 0,
                wider: 0,
            },
            delimiter: head.delimiter,
            first: head.is_sample.then_some(header),
            comments,
            lines,
        })
    }
}

impl Cut {
    fn row(&mut self, line: &[u8]) -> Timed {
        self.rows += 1;
        let cells = self.cells.split(line)?;
        self.wider += u64::from(cells.len() > self.columns.count);
        self.values.of(cells, &self.columns)
    }
}

impl Body for Delimited {
    fn next(&mut self) -> Result<Option<Timed>> {
        if let Some(line) = self.first.take() {
            return Ok(Some(self.cut.row(&line)));
        }
        let row = loop {
            match self.lines.next()? {
                None if self.cut.values.decimals.are_ambiguous() => bail!(
                    "numbers have three digits behind a mark or none: do marks stand between thousands? If they are \
                     decimals say --decimal point or --decimal comma; thousands are not read"
                ),
                None => return Ok(None),
                Some(Raw::TooLong) => break Err(too_long()),
                Some(Raw::Line(line)) if is_comment(line) => self.comments = true,
                Some(Raw::Line(line)) => break self.cut.row(line),
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
        let mut guessed = Vec::new();
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
        guessed
    }

    fn remark(&self) -> Option<&'static str> {
        (2 * self.cut.wider > self.cut.rows).then_some(
            "most lines have more cells than the header: are decimals written with a comma \
             instead of a point?",
        )
    }
}

impl Values {
    fn new(layout: &Layout) -> Self {
        Self {
            decimals: Decimals::new(layout.decimal),
            dates: Dates::new(layout.zone.clone()),
            counted: 0,
        }
    }

    /// The time in microseconds and the reading of a line.
    fn of(&mut self, line: Record<'_>, columns: &Columns) -> Timed {
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
            Time::Dates(at) => self.dates.micros(cell(at)?)?,
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

/// What the first line says.
struct Head {
    delimiter: u8,
    columns: Columns,
    is_sample: bool,
    cells: usize,
}

impl Head {
    /// By the one delimiter that makes sense of the line.
    fn find(line: &[u8], layout: &Layout) -> Result<Self, String> {
        let candidates: Vec<u8> = match layout.delimiter {
            Some(told) => vec![told],
            None => {
                let inside = |byte: &u8| line.contains(byte);
                let marks = DELIMITERS.iter().map(|(_, byte)| *byte);
                let mut found: Vec<u8> = marks.filter(inside).collect();
                // Names may have blanks in them.
                if found.len() > 1 {
                    found.retain(|byte| *byte != b' ');
                }
                if found.is_empty() { vec![b','] } else { found }
            }
        };
        let mut heads = Vec::new();
        let mut refused: Option<(usize, String)> = None;
        for delimiter in candidates {
            match Self::apart_by(delimiter, line, layout) {
                Ok(head) => heads.push(head),
                Err((cells, reason)) => {
                    if refused.as_ref().is_none_or(|(most, _)| cells > *most) {
                        refused = Some((cells, reason));
                    }
                }
            }
        }
        heads.sort_by_key(|head| std::cmp::Reverse((head.is_sample, head.cells)));
        let mut heads = heads.into_iter();
        match (heads.next(), heads.next(), refused) {
            (Some(one), Some(other), _) if one.rank() == other.rank() => {
                Err("cells could be apart in two ways; say --delimiter".into())
            }
            (Some(head), ..) => Ok(head),
            (None, _, Some((_, reason))) => Err(reason),
            (None, _, None) => Err("the line is empty".into()),
        }
    }

    fn rank(&self) -> (bool, usize) {
        (self.is_sample, self.cells)
    }

    /// With the number of cells where it makes none.
    fn apart_by(delimiter: u8, line: &[u8], layout: &Layout) -> Result<Self, (usize, String)> {
        let mut cells = Cells::new(delimiter);
        let record = cells.split(line).map_err(|reason| (0, reason))?;
        let names = record.all().map_err(|reason| (record.len(), reason))?;
        let labels: Vec<_> = names.into_iter().map(Label::new).collect();
        let columns = Columns::find(&labels, layout, None);
        let columns = columns.map_err(|reason| (labels.len(), reason))?;
        let is_sample = layout.is_counted() && Values::new(layout).of(record, &columns).is_ok();
        Ok(Self { delimiter, columns, is_sample, cells: labels.len() })
    }
}

fn is_comment(line: &[u8]) -> bool {
    line.first().is_some_and(|byte| COMMENTS.contains(byte))
}

fn too_long() -> String {
    format!("the line is longer than {LONGEST} bytes")
}
