#![no_main]
//! See `tests/support/src/fuzzed/file.rs`.

use std::sync::Once;
use tidevane_replay::read_all;
use tidevane_support::fuzzed::file;

static QUIET: Once = Once::new();

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    // A panic of a reader that is not ours is caught, and told as an error; any other ends the run.
    QUIET.call_once(|| std::panic::set_hook(Box::new(|_| ())));
    file::wfdb(data, read_all);
});
