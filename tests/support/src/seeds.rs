//! The named seeds of the fuzz targets, in `tests/seeds`.

use std::fs;
use std::path::Path;

/// Replays every seed of a target; there are 5 to 40, each below 2 kB.
///
/// # Panics
/// Where a seed fails, is too long or cannot be read.
pub fn replay(target: &str, check: impl Fn(&[u8])) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../seeds").join(target);
    let mut seeds = 0;
    for entry in fs::read_dir(&folder).unwrap() {
        let path = entry.unwrap().path();
        let data = fs::read(&path).unwrap();
        println!("{target}: {}", path.file_name().unwrap().display());
        assert!(data.len() < 2_000, "{} is too long for a seed", path.display());
        check(&data);
        seeds += 1;
    }
    assert!((5..=40).contains(&seeds), "{target} has {seeds} seeds");
}
