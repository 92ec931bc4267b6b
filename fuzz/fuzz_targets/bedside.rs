#![no_main]
//! See `tests/support/src/fuzzed/bedside/mod.rs`.

use tidevane_support::fuzzed::bedside;

libfuzzer_sys::fuzz_target!(|data: &[u8]| bedside::check(data));
