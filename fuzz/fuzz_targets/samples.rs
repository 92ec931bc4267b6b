#![no_main]
//! See `tests/fuzzed/samples.rs`.

#[path = "../../tests/fuzzed/account.rs"]
mod account;
#[path = "../../tests/fuzzed/bounds.rs"]
mod bounds;
#[path = "../../tests/fuzzed/bytes.rs"]
mod bytes;
#[path = "../../tests/fuzzed/samples.rs"]
mod samples;
#[path = "../../tests/fuzzed/setup.rs"]
mod setup;
#[path = "../../tests/fuzzed/shifted.rs"]
mod shifted;
#[path = "../../tests/fuzzed/stream.rs"]
mod stream;

libfuzzer_sys::fuzz_target!(|data: &[u8]| samples::check(data));
