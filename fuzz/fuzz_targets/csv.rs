#![no_main]
//! See `tests/support/src/fuzzed/csv.rs`.

use std::io::Cursor;
use std::iter;
use tidevane_replay::{Layout, Rows};
use tidevane_support::fuzzed::csv::{self, Line};

/// A recording that cannot be read on, as by a date without a zone, ends there.
fn read(text: &[u8]) -> Option<Vec<Line>> {
    let mut rows = Rows::new(Cursor::new(text.to_vec()), &Layout::default(), "an input").ok()?;
    Some(iter::from_fn(|| rows.next().ok()?.map(|row| (rows.number(), row))).collect())
}

libfuzzer_sys::fuzz_target!(|data: &[u8]| csv::check(data, read));
