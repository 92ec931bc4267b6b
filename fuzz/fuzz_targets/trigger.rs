#![no_main]
//! See `tests/fuzzed/trigger.rs`.

#[path = "../../tests/fuzzed/bytes.rs"]
mod bytes;
#[path = "../../tests/fuzzed/made.rs"]
mod made;
#[path = "../../tests/fuzzed/trigger.rs"]
mod trigger;

libfuzzer_sys::fuzz_target!(|data: &[u8]| trigger::check(data));
