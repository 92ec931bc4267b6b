//! Replays the named seeds of each fuzz target of the core on the stable compiler: the properties are
//! those of `fuzz/`, the seeds say in their names what they show.

use tidevane_support::{fuzzed, seeds};

macro_rules! targets {
    ($($target:ident),*) => {$(
        #[test]
        fn $target() {
            seeds::replay(stringify!($target), fuzzed::$target::check);
        }
    )*};
}

targets!(alarm, bedside, leak, limiter, proposal, samples, settings, sums, trend, trigger);

#[cfg(feature = "serde")]
#[test]
fn journal() {
    use tidevane::monitor::JournalEntry;
    let again = |entry: &JournalEntry| {
        let text = serde_json::to_string(entry).unwrap();
        serde_json::from_str(&text).unwrap()
    };
    seeds::replay("journal", |data| fuzzed::journal::check(data, again));
}
