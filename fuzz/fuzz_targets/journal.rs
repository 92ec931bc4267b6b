#![no_main]
//! See `tests/fuzzed/journal.rs`.

#[path = "../../tests/fuzzed/bytes.rs"]
mod bytes;
#[path = "../../tests/fuzzed/journal.rs"]
mod journal;

libfuzzer_sys::fuzz_target!(|data: &[u8]| journal::check(data));
