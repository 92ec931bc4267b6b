#![no_main]
//! See `tests/support/src/fuzzed/sums/mod.rs`.

use tidevane_support::fuzzed::sums;

libfuzzer_sys::fuzz_target!(|data: &[u8]| sums::check(data));
