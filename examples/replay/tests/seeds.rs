//! The readers on the named seeds in `tests/seeds`, by the properties that are also fuzzed.

use std::io::Cursor;
use std::iter;
use tidevane_replay::{Layout, Rows, read_all};
use tidevane_support::fuzzed::csv::{self, Line};
use tidevane_support::fuzzed::file;
use tidevane_support::seeds;

/// A recording that cannot be read on, as by a date without a zone, ends there.
fn read(text: &[u8]) -> Option<Vec<Line>> {
    let mut rows = Rows::new(Cursor::new(text.to_vec()), &Layout::default(), "a seed").ok()?;
    Some(iter::from_fn(|| rows.next().ok()?.map(|row| (rows.number(), row))).collect())
}

#[test]
fn seeds_hold() {
    seeds::replay("csv", |data| csv::check(data, read));
    seeds::replay("wfdb", |data| file::wfdb(data, read_all));
    seeds::replay("edf", |data| file::edf(data, read_all));
}
