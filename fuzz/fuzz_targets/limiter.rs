#![no_main]
//! See `tests/fuzzed/limiter.rs`.

#[path = "../../tests/fuzzed/bytes.rs"]
mod bytes;
#[path = "../../tests/fuzzed/limiter.rs"]
mod limiter;

libfuzzer_sys::fuzz_target!(|data: &[u8]| limiter::check(data));
