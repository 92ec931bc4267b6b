//! Cuts a recording into lines of bounded length.

use anyhow::{Context, Result, bail};
use std::io::{self, BufRead, BufReader, Cursor, Read};

/// The longest line taken, in bytes.
pub(crate) const LONGEST: usize = 65_536;

/// The lines of a text, numbered from 1.
pub(crate) struct Lines {
    input: Box<dyn BufRead>,
    separator: u8,
    buffer: Vec<u8>,
    pub(crate) number: u64,
    /// The rest of a line too long is still to be skipped.
    inside: bool,
}

/// One line without its end and the blanks around it.
pub(crate) enum Raw<'a> {
    Line(&'a [u8]),
    TooLong,
}

impl Lines {
    /// Looks at the first line to see what kind of text this is.
    pub(crate) fn new(input: impl Read + 'static) -> Result<Self> {
        let mut input = BufReader::with_capacity(LONGEST, input);
        let mut first = Vec::new();
        input.by_ref().take(LONGEST as u64).read_until(b'\n', &mut first).context("cannot read")?;
        if first.starts_with(b"\xff\xfe") || first.starts_with(b"\xfe\xff") {
            bail!("this is UTF-16 text; save it as UTF-8");
        }
        if first.starts_with(b"\xef\xbb\xbf") {
            first.drain(..3);
        }
        let line = first.strip_suffix(b"\n").unwrap_or(&first);
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        let separator = if line.contains(&b'\r') { b'\r' } else { b'\n' };
        let input = Box::new(Cursor::new(first).chain(input));
        Ok(Self { input, separator, buffer: Vec::new(), number: 0, inside: false })
    }

    /// The next line that is not blank; `None` at the end.
    pub(crate) fn next(&mut self) -> io::Result<Option<Raw<'_>>> {
        if std::mem::take(&mut self.inside) {
            self.input.skip_until(self.separator)?;
        }
        loop {
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
                return Ok(Some(Raw::Line(self.buffer.trim_ascii())));
            }
        }
    }
}
