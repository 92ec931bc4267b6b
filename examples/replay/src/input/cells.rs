//! Cuts a line into its cells. A quoted cell ends on its own line.

use crate::input::lines::LONGEST;
use csv_core::{ReadRecordResult, Reader, ReaderBuilder};
use memchr::memchr2_iter;

/// Room for the cells of the longest line.
pub(crate) struct Cells {
    delimiter: u8,
    reader: Reader,
    line: Vec<u8>,
    text: Vec<u8>,
    ends: Vec<usize>,
}

/// The cells of one line.
#[derive(Clone, Copy)]
pub(crate) struct Record<'a> {
    text: &'a [u8],
    /// Where each ends, and how many bytes lie between two.
    ends: &'a [usize],
    between: usize,
}

impl Cells {
    pub(crate) fn new(delimiter: u8) -> Self {
        Self {
            delimiter,
            reader: ReaderBuilder::new().delimiter(delimiter).build(),
            line: Vec::new(),
            text: Vec::new(),
            ends: Vec::new(),
        }
    }

    pub(crate) const fn delimiter(&self) -> u8 {
        self.delimiter
    }

    /// The cells of a line, or why it has none.
    pub(crate) fn split<'a>(&'a mut self, line: &'a [u8]) -> Result<Record<'a>, String> {
        if self.delimiter == b' ' {
            squeeze(line, &mut self.line);
        }
        let is_blank = self.delimiter == b' ';
        let text = if is_blank { &self.line } else { line };
        self.ends.clear();
        let mut is_quoted = false;
        for at in memchr2_iter(self.delimiter, b'"', text) {
            is_quoted |= text[at] == b'"';
            self.ends.push(at);
        }
        if is_quoted {
            return self.split_quoted(line);
        }
        let text = if is_blank { &self.line } else { line };
        self.ends.push(text.len());
        Ok(Record { text, ends: &self.ends, between: 1 })
    }

    fn split_quoted(&mut self, line: &[u8]) -> Result<Record<'_>, String> {
        if self.delimiter != b' ' {
            self.line.clear();
            self.line.extend_from_slice(line);
        }
        self.line.push(b'\n');
        self.text.resize(LONGEST + 2, 0);
        self.ends.resize(LONGEST + 2, 0);
        let (result, read, text, ends) =
            self.reader.read_record(&self.line, &mut self.text, &mut self.ends);
        if result != ReadRecordResult::Record {
            self.reader.reset();
            return Err("a quote is not closed".into());
        }
        if read < self.line.len() {
            return Err("the line is broken inside".into());
        }
        Ok(Record { text: &self.text[..text], ends: &self.ends[..ends], between: 0 })
    }
}

/// Blanks and tabs, however many, as one blank.
fn squeeze(line: &[u8], to: &mut Vec<u8>) {
    to.clear();
    for &byte in line {
        let byte = if byte == b'\t' { b' ' } else { byte };
        if byte != b' ' || to.last() != Some(&b' ') {
            to.push(byte);
        }
    }
}

impl<'a> Record<'a> {
    pub(crate) fn len(self) -> usize {
        self.ends.len()
    }

    /// The bytes of a cell without the blanks around it; empty where there is none.
    pub(crate) fn bytes(self, i: usize) -> &'a [u8] {
        self.raw(i).unwrap_or_default().trim_ascii()
    }

    fn raw(self, i: usize) -> Option<&'a [u8]> {
        let from = if i == 0 { 0 } else { *self.ends.get(i - 1)? + self.between };
        self.text.get(from..*self.ends.get(i)?)
    }

    /// A cell without the blanks around it; `None` where there is none, or no text: each is looked at
    /// alone, so that a letter that a delimiter cuts in two is none.
    pub(crate) fn get(self, i: usize) -> Option<&'a str> {
        std::str::from_utf8(self.raw(i)?).ok().map(str::trim)
    }

    /// All cells as text, and whether it is Latin-1 for want of UTF-8.
    pub(crate) fn names(self) -> (Vec<String>, bool) {
        let all = || 0..self.len();
        let utf8: Option<Vec<_>> = all().map(|i| self.get(i).map(str::to_owned)).collect();
        let latin = |i| {
            let text: String = self.bytes(i).iter().copied().map(char::from).collect();
            text.trim().to_owned()
        };
        utf8.map_or_else(|| (all().map(latin).collect(), true), |names| (names, false))
    }
}
