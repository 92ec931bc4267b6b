#![no_main]
//! See `tests/fuzzed/proposal.rs`.

#[path = "../../tests/fuzzed/bytes.rs"]
mod bytes;
#[path = "../../tests/fuzzed/proposal.rs"]
mod proposal;

libfuzzer_sys::fuzz_target!(|data: &[u8]| proposal::check(data));
