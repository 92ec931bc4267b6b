#![no_main]
//! See `tests/support/src/fuzzed/limiter.rs`.

use tidevane_support::fuzzed::limiter;

libfuzzer_sys::fuzz_target!(|data: &[u8]| limiter::check(data));
