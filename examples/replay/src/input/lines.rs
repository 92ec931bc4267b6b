//! Cuts a recording into lines of bounded length.

use anyhow::{Context, Result};
use encoding_rs_io::DecodeReaderBytes;
use memchr::memchr;
use std::collections::VecDeque;
use std::io::{self, BufRead, BufReader, Cursor, Read};

/// The longest line taken, in bytes.
pub(crate) const LONGEST: usize = 65_536;

/// The lines of a text, numbered from 1.
pub(crate) struct Lines {
    input: BufReader<Box<dyn Read>>,
    separator: u8,
    /// So much of what is read is the latest line: most lie there whole, and are not copied.
    used: usize,
    /// The latest line, where it does not.
    buffer: Vec<u8>,
    pub(crate) number: u64,
    /// The rest of a line too long is still to be skipped.
    inside: bool,
    /// Lines that come again.
    held: VecDeque<Ahead>,
    /// It is UTF-16, as its first two bytes say.
    pub(crate) is_wide: bool,
}

/// One line.
pub(crate) enum Raw<'a> {
    Line(&'a [u8]),
    TooLong,
}

/// A line that was looked at ahead, as it stands; no bytes where it is too long.
pub(crate) struct Ahead {
    pub(crate) number: u64,
    pub(crate) line: Option<Vec<u8>>,
}

impl Lines {
    /// Looks at the first line to see what kind of text this is.
    pub(crate) fn new(mut input: impl Read + 'static) -> Result<Self> {
        let mut mark = Vec::new();
        input.by_ref().take(2).read_to_end(&mut mark).context("cannot read")?;
        // Without a byte-order mark the half of a letter that is zero tells the order.
        let order: Option<&[u8]> = match mark[..] {
            [0xff, 0xfe] | [0xfe, 0xff] => Some(b""),
            [1..=0x7f, 0] => Some(b"\xff\xfe"),
            [0, 1..=0x7f] => Some(b"\xfe\xff"),
            _ => None,
        };
        let is_wide = order.is_some();
        let input = order.unwrap_or_default().chain(Cursor::new(mark)).chain(input);
        let input: Box<dyn Read> =
            if is_wide { Box::new(DecodeReaderBytes::new(input)) } else { Box::new(input) };
        let mut input = BufReader::with_capacity(LONGEST, input);
        let mut first = Vec::new();
        input.by_ref().take(LONGEST as u64).read_until(b'\n', &mut first).context("cannot read")?;
        if first.starts_with(b"\xef\xbb\xbf") {
            first.drain(..3);
        }
        let line = first.strip_suffix(b"\n").unwrap_or(&first);
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        let separator = if line.contains(&b'\r') { b'\r' } else { b'\n' };
        Ok(Self {
            input: BufReader::with_capacity(LONGEST, Box::new(Cursor::new(first).chain(input))),
            separator,
            used: 0,
            buffer: Vec::new(),
            number: 0,
            inside: false,
            held: VecDeque::new(),
            is_wide,
        })
    }

    /// The next line that is not blank; `None` at the end.
    pub(crate) fn next(&mut self) -> io::Result<Option<Raw<'_>>> {
        Ok(self.whole()?.map(|line| match line {
            Raw::Line(line) => Raw::Line(line.trim_ascii()),
            Raw::TooLong => Raw::TooLong,
        }))
    }

    /// The same with the blanks around it.
    fn whole(&mut self) -> io::Result<Option<Raw<'_>>> {
        if let Some(Ahead { number, line }) = self.held.pop_front() {
            self.number = number;
            let Some(line) = line else { return Ok(Some(Raw::TooLong)) };
            self.buffer = line;
            return Ok(Some(Raw::Line(&self.buffer)));
        }
        if std::mem::take(&mut self.inside) {
            self.input.skip_until(self.separator)?;
        }
        loop {
            self.input.consume(std::mem::take(&mut self.used));
            if let Some(end) = memchr(self.separator, self.input.buffer()) {
                self.used = end + 1;
                self.number += 1;
                if self.input.buffer()[..end].trim_ascii().is_empty() {
                    continue;
                }
                return Ok(Some(Raw::Line(&self.input.buffer()[..end])));
            }
            self.buffer.clear();
            let most = LONGEST as u64 + 1;
            let mut bounded = self.input.by_ref().take(most);
            if bounded.read_until(self.separator, &mut self.buffer)? == 0 {
                return Ok(None);
            }
            self.number += 1;
            if self.buffer.len() > LONGEST && self.buffer.last() != Some(&self.separator) {
                self.inside = true;
                return Ok(Some(Raw::TooLong));
            }
            if !self.buffer.trim_ascii().is_empty() {
                return Ok(Some(Raw::Line(&self.buffer)));
            }
        }
    }

    /// The next line, to be looked at ahead.
    pub(crate) fn ahead(&mut self) -> io::Result<Option<Ahead>> {
        let line = match self.whole()? {
            None => return Ok(None),
            Some(Raw::TooLong) => None,
            Some(Raw::Line(line)) => Some(line.to_vec()),
        };
        Ok(Some(Ahead { number: self.number, line }))
    }

    /// These come next, before all others.
    pub(crate) fn put_back(&mut self, lines: impl DoubleEndedIterator<Item = Ahead>) {
        lines.rev().for_each(|line| self.held.push_front(line));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lines of up to the longest that is taken, wherever they lie in what is read at once; looked at ahead, too.
    #[test]
    fn lines_are_cut_wherever_they_lie() {
        let lengths = [3, 65_530, 0, 1, 65_535, 65_536, 65_537, 2, 200_000, 40_000, 40_000, 7];
        let text: String = lengths.iter().map(|length| "x".repeat(*length) + "\n").collect();
        for is_ahead in [false, true] {
            let mut lines = Lines::new(Cursor::new(text.clone())).unwrap();
            let mut found = Vec::new();
            loop {
                if is_ahead {
                    let ahead = lines.ahead().unwrap();
                    lines.put_back(ahead.into_iter());
                }
                let length = match lines.next().unwrap() {
                    None => break,
                    Some(Raw::TooLong) => None,
                    Some(Raw::Line(line)) => Some(line.len()),
                };
                found.push((lines.number, length));
            }
            // A blank line is counted and left out.
            let expected: Vec<_> = (1..)
                .zip(lengths)
                .filter(|(_, length)| *length > 0)
                .map(|(number, length)| (number, Some(length).filter(|length| *length <= LONGEST)))
                .collect();
            assert_eq!(found, expected, "ahead: {is_ahead}");
        }
    }
}
