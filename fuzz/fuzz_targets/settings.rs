#![no_main]
//! See `tests/support/src/fuzzed/settings.rs`.

use tidevane_support::fuzzed::settings;

libfuzzer_sys::fuzz_target!(|data: &[u8]| settings::check(data));
