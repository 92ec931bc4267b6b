#![no_main]
//! See `tests/fuzzed/leak.rs`.

#[path = "../../tests/fuzzed/bytes.rs"]
mod bytes;
#[path = "../../tests/fuzzed/leak.rs"]
mod leak;
#[path = "../../tests/fuzzed/made.rs"]
mod made;

libfuzzer_sys::fuzz_target!(|data: &[u8]| leak::check(data));
