//! Where the table of a text begins: below a header, of which notes may stand above and units below.

use super::header::{Header, Refused};
use super::layout::{DELIMITERS, Layout};
use super::lines::{Ahead, LONGEST, Lines};
use crate::text::{many, quoted};
use anyhow::{Context, Result, bail};

/// A line that begins so says something about the recording.
const COMMENTS: [u8; 2] = *b"#%";
/// So many bytes are looked through for a header.
const ABOVE: usize = LONGEST;

/// What was found of a table before its first row.
pub(super) struct Head {
    pub(super) header: Header,
    pub(super) has_comments: bool,
    /// What is odd about it, in words.
    pub(super) odd: Vec<String>,
}

/// A search under way.
struct Search<'a> {
    layout: &'a Layout,
    delimiter: Option<u8>,
    has_comments: bool,
    /// Lines that belong to no table.
    above: usize,
    /// Where columns are counted: what may be a header, and the rows below it so far.
    begun: Option<(Header, Vec<Ahead>)>,
    /// A comment that could be a header.
    comment: Option<Header>,
    /// The line most like a header, and why it is none.
    refused: Option<(u64, Refused)>,
}

impl Head {
    /// Leaves the lines at the first row.
    pub(super) fn find(lines: &mut Lines, layout: &Layout, name: &str) -> Result<Self> {
        let mut search = Search {
            layout,
            delimiter: layout.delimiter,
            has_comments: false,
            above: 0,
            begun: None,
            comment: None,
            refused: None,
        };
        let mut looked = 0;
        let mut is_first = true;
        while looked < ABOVE {
            let ahead = lines.ahead().with_context(|| format!("cannot read {name}"))?;
            let Some(ahead) = ahead else { break };
            let Some(line) = ahead.line.as_deref().map(<[u8]>::trim_ascii) else {
                if search.begun.is_some() {
                    lines.put_back([ahead].into_iter());
                    break;
                }
                bail!("{name}:{}: {}", ahead.number, too_long());
            };
            if is_comment(line) {
                search.comment(line);
                continue;
            }
            looked += line.len();
            if std::mem::take(&mut is_first)
                && let Some(mark) = separator(line)
            {
                let told = search.delimiter.map_or_else(|| delimiter(mark), Ok);
                let told = told.with_context(|| format!("{name}:{}", ahead.number))?;
                search.delimiter = Some(told);
                continue;
            }
            let below = lines.ahead().with_context(|| format!("cannot read {name}"))?;
            if let Some(head) = search.line(ahead, below, lines) {
                return Ok(head);
            }
        }
        match (search.begun.take(), search.refused.take()) {
            (Some((header, rows)), _) => Ok(search.found(header, rows, lines)),
            (None, Some((number, Refused { reason, .. }))) => bail!("{name}:{number}: {reason}"),
            (None, None) if search.has_comments => bail!("{name} holds comments and no table"),
            (None, None) => bail!("{name} is empty"),
        }
    }
}

impl Search<'_> {
    fn comment(&mut self, line: &[u8]) {
        self.has_comments = true;
        let behind = line.iter().position(|byte| !COMMENTS.contains(byte)).unwrap_or(line.len());
        let text = line[behind..].trim_ascii();
        if !self.layout.is_counted()
            && let Ok(header) = Header::of(text, None, self.delimiter, self.layout)
        {
            self.comment = Some(header);
        }
    }

    /// Looks at a line, and gives back what is below it; a head where that is found.
    fn line(&mut self, ahead: Ahead, below: Option<Ahead>, lines: &mut Lines) -> Option<Head> {
        let line = ahead.line.as_deref().unwrap_or_default().trim_ascii();
        let units = below.as_ref().and_then(|below| below.line.as_deref());
        let header = Header::of(line, units, self.delimiter, self.layout);
        let has_units = header.as_ref().is_ok_and(|header| header.has_units);
        lines.put_back(below.filter(|_| !has_units).into_iter());
        match header {
            Ok(header) if !self.layout.is_counted() => Some(self.found(header, vec![], lines)),
            Ok(header) => {
                let is_sample = header.is_sample;
                match &mut self.begun {
                    Some((first, rows)) if first.is_like(&header) => rows.push(ahead),
                    _ => {
                        self.abandon();
                        let rows = if is_sample { vec![ahead] } else { vec![] };
                        self.begun = Some((header, rows));
                    }
                }
                let (header, rows) = self.begun.take_if(|_| is_sample)?;
                Some(self.found(header, rows, lines))
            }
            Err(refused) => {
                let reads = |header: &mut Header| header.reads(line, self.layout);
                if let Some(header) = self.comment.take_if(reads) {
                    let mut head = self.found(header, vec![ahead], lines);
                    head.odd.push("the header is a comment".into());
                    return Some(head);
                }
                self.abandon();
                self.above += 1;
                let most = self.refused.as_ref().map(|(_, most)| most.likeness);
                if most.is_none_or(|most| refused.likeness > most) {
                    self.refused = Some((ahead.number, refused));
                }
                None
            }
        }
    }

    /// What was begun was no table.
    fn abandon(&mut self) {
        if let Some((header, rows)) = self.begun.take() {
            self.above += rows.len() + usize::from(!header.is_sample);
        }
    }

    fn found(&self, header: Header, rows: Vec<Ahead>, lines: &mut Lines) -> Head {
        lines.put_back(rows.into_iter());
        let mut odd = Vec::new();
        let mut say = |is_so: bool, what: String| odd.extend(is_so.then_some(what));
        say(lines.is_wide, "UTF-16 text".into());
        let of = if header.is_sample { "samples" } else { "header" };
        let above = many(self.above, "line", "lines");
        say(self.above > 0, format!("{above} above the {of} left out"));
        say(header.is_latin, "names in Latin-1".into());
        say(header.has_units, "a row of units below the header".into());
        Head { header, has_comments: self.has_comments, odd }
    }
}

/// What a first line `sep=;` names.
fn separator(line: &[u8]) -> Option<&[u8]> {
    let line = line.strip_prefix(b"\"").unwrap_or(line);
    let line = line.strip_suffix(b"\"").unwrap_or(line);
    let (word, mark) = line.split_at_checked(4)?;
    word.eq_ignore_ascii_case(b"sep=").then_some(mark)
}

/// The delimiter that such a line means; a tab or a blank was trimmed away.
fn delimiter(mark: &[u8]) -> Result<u8> {
    match mark {
        [] => Ok(b'\t'),
        [mark] if DELIMITERS.iter().any(|(_, known)| known == mark) => Ok(*mark),
        _ => bail!("{} between cells is not read", quoted(&String::from_utf8_lossy(mark))),
    }
}

pub(super) fn is_comment(line: &[u8]) -> bool {
    line.first().is_some_and(|byte| COMMENTS.contains(byte))
}

pub(super) fn too_long() -> String {
    format!("the line is longer than {LONGEST} bytes")
}
