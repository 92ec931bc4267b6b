#![no_main]
//! See `tests/support/src/fuzzed/journal.rs`.

use tidevane::monitor::JournalEntry;
use tidevane_support::fuzzed::journal;

fn again(entry: &JournalEntry) -> JournalEntry {
    let text = serde_json::to_string(entry).unwrap();
    serde_json::from_str(&text).unwrap()
}

libfuzzer_sys::fuzz_target!(|data: &[u8]| journal::check(data, again));
