//! The printed report of a recording, on one line.

use super::cli::replay_brief;
use super::recording::Folder;
use std::fs;

/// What is told of the infant of the plain wave: 9 mL are 6 mL/kg.
pub(crate) const INFANT: [&str; 4] = ["--weight-g", "1500", "--set-rate", "60"];

/// And of that of the default scenario.
pub(crate) const CALM: [&str; 6] =
    ["--weight-g", "1100", "--set-rate", "40", "--threshold-lpm", "0.2"];

pub(crate) fn said(text: &str, infant: &[&str], extra: &[&str]) -> String {
    let folder = Folder::new();
    fs::write(folder.path("in.csv"), text).unwrap();
    let outcome = replay_brief(folder.0.path(), &[&["in.csv"], infant, extra].concat());
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    outcome.stdout.split_whitespace().collect::<Vec<_>>().join(" ")
}
