#![no_main]
//! See `tests/fuzzed/alarm.rs`.

#[path = "../../tests/fuzzed/alarm.rs"]
mod alarm;
#[path = "../../tests/fuzzed/bytes.rs"]
mod bytes;
#[path = "../../tests/fuzzed/setup.rs"]
mod setup;

libfuzzer_sys::fuzz_target!(|data: &[u8]| alarm::check(data));
