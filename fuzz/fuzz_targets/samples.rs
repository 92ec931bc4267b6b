#![no_main]
//! See `tests/support/src/fuzzed/samples.rs`.

use tidevane_support::fuzzed::samples;

libfuzzer_sys::fuzz_target!(|data: &[u8]| samples::check(data));
