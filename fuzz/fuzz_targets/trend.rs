#![no_main]
//! See `tests/support/src/fuzzed/trend/mod.rs`.

use tidevane_support::fuzzed::trend;

libfuzzer_sys::fuzz_target!(|data: &[u8]| trend::check(data));
