#![no_main]
//! See `tests/fuzzed/settings.rs`.

#[path = "../../tests/fuzzed/bytes.rs"]
mod bytes;
#[path = "../../tests/fuzzed/settings.rs"]
mod settings;

libfuzzer_sys::fuzz_target!(|data: &[u8]| settings::check(data));
