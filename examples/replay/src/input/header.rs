//! One line as a header: what is apart in it, and which columns it names.

use super::cells::Cells;
use super::columns::{Columns, Label};
use super::layout::{DELIMITERS, Layout};
use super::unit::Role;
use super::values::Values;
use std::cmp::Reverse;

/// What a line says of the table below it.
pub(super) struct Header {
    pub(super) delimiter: u8,
    pub(super) columns: Columns,
    /// It names nothing: it holds a sample, and columns are counted.
    pub(super) is_sample: bool,
    /// Its names are no UTF-8.
    pub(super) is_latin: bool,
    /// The line below holds units.
    pub(super) has_units: bool,
    cells: usize,
}

/// Why a line is no header, and how much like one it is: the columns it names, and its words.
pub(super) struct Refused {
    pub(super) likeness: (usize, usize),
    pub(super) reason: String,
}

impl Header {
    /// By the one delimiter that makes sense of the line; the line below may hold units.
    pub(super) fn of(
        line: &[u8],
        below: Option<&[u8]>,
        delimiter: Option<u8>,
        layout: &Layout,
    ) -> Result<Self, Refused> {
        let candidates: Vec<u8> = match delimiter {
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
        let mut headers = Vec::new();
        let mut refused: Option<Refused> = None;
        for delimiter in candidates {
            match Self::apart_by(delimiter, line, below, layout) {
                Ok(header) => headers.push(header),
                Err(other) => {
                    if refused.as_ref().is_none_or(|most| other.likeness > most.likeness) {
                        refused = Some(other);
                    }
                }
            }
        }
        headers.sort_by_key(|header| Reverse(header.rank()));
        let mut headers = headers.into_iter();
        let none = |reason: &str| Refused { likeness: (0, 0), reason: reason.into() };
        match (headers.next(), headers.next(), refused) {
            (Some(one), Some(other), _) if one.rank() == other.rank() => {
                Err(none("cells could be apart in two ways; say --delimiter"))
            }
            (Some(header), ..) => Ok(header),
            (None, _, refused) => Err(refused.unwrap_or_else(|| none("the line is empty"))),
        }
    }

    fn rank(&self) -> (bool, usize) {
        (self.is_sample, self.cells)
    }

    /// Whether both are lines of one table.
    pub(super) fn is_like(&self, other: &Self) -> bool {
        self.delimiter == other.delimiter && self.cells == other.cells
    }

    fn apart_by(
        delimiter: u8,
        line: &[u8],
        below: Option<&[u8]>,
        layout: &Layout,
    ) -> Result<Self, Refused> {
        let mut cells = Cells::new(delimiter);
        let refused = |likeness, reason| Refused { likeness, reason };
        let record = cells.split(line).map_err(|reason| refused((0, 0), reason))?;
        let (names, is_latin) = record.names();
        let mut labels: Vec<_> = names.into_iter().map(Label::new).collect();
        let has_units = below.is_some_and(|below| add_units(&mut labels, delimiter, below));
        let columns = Columns::find(&labels, layout, None).map_err(|reason| {
            let named = labels.iter().filter(|label| Role::of_name(&label.name).is_some()).count();
            let is_word = |label: &&Label| label.name.contains(char::is_alphabetic);
            refused((named, labels.iter().filter(is_word).count()), reason)
        })?;
        let is_sample = layout.is_counted() && Values::new(layout).of(record, &columns).is_ok();
        Ok(Self { delimiter, columns, is_sample, is_latin, has_units, cells: labels.len() })
    }

    /// Whether a line is a sample of its table.
    pub(super) fn reads(&self, line: &[u8], layout: &Layout) -> bool {
        let mut cells = Cells::new(self.delimiter);
        let reads = |record| Values::new(layout).of(record, &self.columns).is_ok();
        cells.split(line).is_ok_and(reads)
    }
}

/// Gives each label the unit below it, where the line below holds units: one of flow or pressure, and no number.
fn add_units(labels: &mut [Label], delimiter: u8, below: &[u8]) -> bool {
    // Where tabs stand between cells, the first may be empty.
    let blanks: &[u8] = if delimiter == b'\t' { b" \r\n" } else { b"\t \r\n" };
    let is_blank = |byte: &u8| blanks.contains(byte);
    let from = below.iter().position(|byte| !is_blank(byte)).unwrap_or(below.len());
    let to = below.iter().rposition(|byte| !is_blank(byte)).map_or(from, |at| at + 1);
    let mut cells = Cells::new(delimiter);
    let Ok(record) = cells.split(&below[from..to]) else { return false };
    let (units, _) = record.names();
    let is_unit =
        |word: &String| [Role::Flow, Role::Pressure].iter().any(|role| role.unit(word).is_some());
    let is_number = |word: &String| word.replace(',', ".").parse::<f64>().is_ok();
    if units.len() != labels.len() || !units.iter().any(is_unit) || units.iter().any(is_number) {
        return false;
    }
    for (label, unit) in labels.iter_mut().zip(units) {
        label.unit = Some(unit);
    }
    true
}
