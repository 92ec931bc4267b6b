//! Replays the named seeds of each fuzz target on the stable compiler: the properties are those of
//! `fuzz/`, the seeds say in their names what they show.

#[path = "fuzzed/account.rs"]
mod account;
#[path = "fuzzed/alarm.rs"]
mod alarm;
#[path = "fuzzed/bounds.rs"]
mod bounds;
#[path = "fuzzed/bytes.rs"]
mod bytes;
#[path = "../examples/replay/cells.rs"]
mod cells;
#[path = "../examples/replay/clock.rs"]
#[expect(dead_code, reason = "the program says by how much times were moved")]
mod clock;
#[path = "../examples/replay/columns.rs"]
mod columns;
#[path = "fuzzed/csv.rs"]
mod csv;
#[path = "fuzzed/journal.rs"]
mod journal;
#[path = "fuzzed/leak.rs"]
mod leak;
#[path = "fuzzed/limiter.rs"]
mod limiter;
#[path = "../examples/replay/lines.rs"]
mod lines;
#[path = "fuzzed/made.rs"]
mod made;
#[path = "fuzzed/proposal.rs"]
mod proposal;
#[path = "fuzzed/samples.rs"]
mod samples;
#[path = "fuzzed/settings.rs"]
mod settings;
#[path = "fuzzed/setup.rs"]
mod setup;
#[path = "fuzzed/shifted.rs"]
mod shifted;
#[path = "fuzzed/stream.rs"]
mod stream;
#[path = "../examples/replay/text.rs"]
#[expect(dead_code, reason = "the program prints numbers too")]
mod text;
#[path = "fuzzed/trigger.rs"]
mod trigger;

use std::path::Path;

/// Replays every seed of a target; there are 5 to 40, each below 1 kB.
fn replay(target: &str, check: fn(&[u8])) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/seeds").join(target);
    let mut seeds = 0;
    for entry in std::fs::read_dir(&folder).unwrap() {
        let path = entry.unwrap().path();
        let data = std::fs::read(&path).unwrap();
        println!("{target}: {}", path.file_name().unwrap().display());
        assert!(data.len() < 1_000, "{} is too long for a seed", path.display());
        check(&data);
        seeds += 1;
    }
    assert!((5..=40).contains(&seeds), "{target} has {seeds} seeds");
}

macro_rules! targets {
    ($($target:ident),*) => {$(
        mod $target {
            #[test]
            fn seeds_hold() {
                super::replay(stringify!($target), crate::$target::check);
            }
        }
    )*};
}

mod seeds {
    use super::replay;
    targets!(alarm, csv, journal, leak, limiter, proposal, samples, settings, trigger);
}
