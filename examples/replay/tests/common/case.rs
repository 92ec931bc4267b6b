//! Cases whose truth is known, and what the top of the report says of them.

use super::cli::replay_brief;
use super::recording::{HEADER, wave};
use std::fmt::Write as _;

/// The wave with flow and pressure changed.
pub(crate) fn changed(seconds: u64, change: impl Fn(f64, f64, f64) -> (f64, f64)) -> String {
    let mut text = HEADER.to_owned();
    for line in wave(0, seconds).lines() {
        let cells: Vec<f64> = line.split(',').map(|c| c.parse().unwrap()).collect();
        let (flow, pressure) = change(cells[0] / 1e6, cells[1], cells[2]);
        writeln!(text, "{},{flow:.3},{pressure:.3}", cells[0]).unwrap();
    }
    text
}

/// The top of the report as it is printed, and whether each line of it says what it must.
pub(crate) fn brief(text: &str, extra: &[&str]) -> String {
    brief_with(text, extra, "")
}

/// The same by settings from a file, too.
pub(crate) fn brief_with(text: &str, extra: &[&str], settings: &str) -> String {
    let folder = tempfile::TempDir::new().unwrap();
    std::fs::write(folder.path().join("in.csv"), text).unwrap();
    std::fs::write(folder.path().join("s.toml"), settings).unwrap();
    let first = ["in.csv", "--settings", "s.toml"];
    let args: Vec<&str> = first.into_iter().chain(extra.iter().copied()).collect();
    let outcome = replay_brief(folder.path(), &args);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    let lines: Vec<&str> = outcome.stdout.lines().collect();
    assert!(lines.len() <= 25, "{} lines\n{}", lines.len(), outcome.stdout);
    assert!(lines.iter().all(|line| line.chars().count() <= 100), "{}", outcome.stdout);
    outcome.stdout
}
