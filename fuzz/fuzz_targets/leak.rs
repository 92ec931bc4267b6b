#![no_main]
//! See `tests/support/src/fuzzed/leak.rs`.

use tidevane_support::fuzzed::leak;

libfuzzer_sys::fuzz_target!(|data: &[u8]| leak::check(data));
