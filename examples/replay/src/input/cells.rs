//! Cuts a line into its cells. A quoted cell ends on its own line.

use crate::input::lines::LONGEST;
use csv_core::{ReadRecordResult, Reader, ReaderBuilder};

/// Room for the cells of the longest line.
pub(crate) struct Cells {
    reader: Reader,
    /// Blanks, however many, stand between cells.
    blanks: bool,
    line: Vec<u8>,
    text: Vec<u8>,
    ends: Vec<usize>,
}

/// The cells of one line.
#[derive(Clone, Copy)]
pub(crate) struct Record<'a> {
    text: &'a str,
    ends: &'a [usize],
}

impl Cells {
    pub(crate) fn new(delimiter: u8) -> Self {
        Self {
            reader: ReaderBuilder::new().delimiter(delimiter).build(),
            blanks: delimiter == b' ',
            line: Vec::new(),
            text: vec![0; LONGEST + 2],
            ends: vec![0; LONGEST + 2],
        }
    }

    /// The cells of a line, or why it has none.
    pub(crate) fn split(&mut self, line: &[u8]) -> Result<Record<'_>, String> {
        self.line.clear();
        if self.blanks {
            let mut last = b' ';
            for &byte in line {
                let byte = if byte == b'\t' { b' ' } else { byte };
                if byte != b' ' || last != b' ' {
                    self.line.push(byte);
                }
                last = byte;
            }
        } else {
            self.line.extend_from_slice(line);
        }
        self.line.push(b'\n');
        let (result, read, text, ends) =
            self.reader.read_record(&self.line, &mut self.text, &mut self.ends);
        if result != ReadRecordResult::Record {
            self.reader.reset();
            return Err("a quote is not closed".into());
        }
        if read < self.line.len() {
            return Err("the line is broken inside".into());
        }
        let text = std::str::from_utf8(&self.text[..text]).map_err(|_| "not text")?;
        let ends = &self.ends[..ends];
        // A letter that a comma cuts in two would make a cell that cannot be read.
        if ends.iter().any(|end| !text.is_char_boundary(*end)) {
            return Err("not text".into());
        }
        Ok(Record { text, ends })
    }
}

impl<'a> Record<'a> {
    pub(crate) fn len(self) -> usize {
        self.ends.len()
    }

    /// A cell without the blanks around it.
    pub(crate) fn get(self, i: usize) -> Option<&'a str> {
        let from = if i == 0 { 0 } else { *self.ends.get(i - 1)? };
        self.text.get(from..*self.ends.get(i)?).map(str::trim)
    }

    pub(crate) fn iter(self) -> impl Iterator<Item = &'a str> {
        (0..self.len()).filter_map(move |i| self.get(i))
    }
}
