#![no_main]
//! See `tests/support/src/fuzzed/alarm.rs`.

use tidevane_support::fuzzed::alarm;

libfuzzer_sys::fuzz_target!(|data: &[u8]| alarm::check(data));
