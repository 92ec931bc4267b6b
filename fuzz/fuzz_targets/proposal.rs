#![no_main]
//! See `tests/support/src/fuzzed/proposal.rs`.

use tidevane_support::fuzzed::proposal;

libfuzzer_sys::fuzz_target!(|data: &[u8]| proposal::check(data));
