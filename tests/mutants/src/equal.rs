//! Changes that change nothing for any input, each with the reason: `tests/mutants/equal.txt`, a line each, the
//! reason behind a tab.

use crate::change::Change;
use std::collections::BTreeMap;
use std::path::Path;

pub fn read(root: &Path) -> BTreeMap<String, String> {
    let text = std::fs::read_to_string(root.join("tests/mutants/equal.txt")).unwrap_or_default();
    let lines = text.lines().filter(|line| !line.is_empty() && !line.starts_with('#'));
    lines
        .map(|line| {
            let (name, reason) = line.split_once('\t').expect("a name, a tab, and a reason");
            (name.to_owned(), reason.to_owned())
        })
        .collect()
}

/// Those that are caught all the same. What is not among the changes may be of a file that was not asked for.
pub fn stale<'a>(
    equal: &'a BTreeMap<String, String>,
    changes: &[Change],
    verdicts: &[Option<String>],
) -> Vec<&'a String> {
    let caught = |name: &String| {
        let found = changes.iter().zip(verdicts).find(|(change, _)| change.name == *name);
        found.is_some_and(|(_, by)| by.is_some())
    };
    equal.keys().filter(|name| caught(name)).collect()
}
