#![no_main]
//! See `tests/support/src/fuzzed/trigger.rs`.

use tidevane_support::fuzzed::trigger;

libfuzzer_sys::fuzz_target!(|data: &[u8]| trigger::check(data));
