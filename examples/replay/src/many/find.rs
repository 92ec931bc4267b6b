//! The recordings of a folder and of the folders in it.

use crate::tables::column::Column;
use crate::tables::tabulate::Table;
use crate::tables::{breaths, events, minutes, steps, summary};
use anyhow::{Context, Result};
use std::cell::RefCell;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use walkdir::WalkDir;

/// A recording, and its path from the folder on.
pub(super) struct Found {
    pub(super) path: PathBuf,
    pub(super) within: PathBuf,
    /// Why it cannot be read, where its kind says so.
    pub(super) refused: Option<&'static str>,
}

/// What recordings are called; a WFDB record is found by its header.
const ENDS: [&str; 9] =
    ["csv", "tsv", "txt", "parquet", "arrow", "arrows", "feather", "hea", "edf"];
/// Of these a text may be packed by one of those.
const TEXTS: [&str; 3] = ["csv", "tsv", "txt"];
const PACKED: [&str; 2] = ["gz", "zst"];

/// A folder among the recordings.
const UNLISTED: &str = "it is a folder that cannot be listed";

/// By name. Links to files are followed, links to folders are not; what stands in `but` is left out, and
/// what is no recording though it is called as one, which is told.
pub(super) fn recordings(
    folder: &Path,
    but: &Path,
    left: &RefCell<Vec<String>>,
) -> Result<Vec<Found>> {
    let say = |path: &Path, why: &str| left.borrow_mut().push(format!("{}, {why}", path.display()));
    let but = but.canonicalize().ok();
    let mut found = Vec::new();
    let entries = WalkDir::new(folder).sort_by_file_name().into_iter();
    let inside = |path: &Path| but.is_some() && path.canonicalize().ok() == but;
    let is_read = |e: &walkdir::DirEntry| {
        if e.depth() == 0 || !e.file_type().is_dir() || inside(e.path()) {
            return e.depth() == 0 || !e.file_type().is_dir();
        }
        let is_result = is_of_a_run(e.path());
        if is_result {
            say(e.path(), "the tables of an earlier run");
        }
        !is_result
    };
    for entry in entries.filter_entry(is_read) {
        let within = |path: &Path| path.strip_prefix(folder).unwrap_or(path).to_path_buf();
        let entry = match entry {
            Ok(entry) => entry,
            // One that cannot be listed is no reason to leave the others.
            Err(error) => match error.path().filter(|_| error.depth() > 0).map(Path::to_path_buf) {
                Some(path) => {
                    let within = within(&path);
                    found.push(Found { path, within, refused: Some(UNLISTED) });
                    continue;
                }
                None => Err(error)
                    .with_context(|| format!("cannot read the folder {}", folder.display()))?,
            },
        };
        let path = entry.path();
        if entry.file_type().is_dir() || !is_recording(path) {
            continue;
        }
        if path.is_dir() {
            continue;
        }
        match left_out(path) {
            Some(why) => say(path, why),
            None => found.push(of(folder, &within(path))),
        }
    }
    Ok(found)
}

/// Whether a folder holds what a run leaves.
fn is_of_a_run(folder: &Path) -> bool {
    let holds = |name: &str| folder.join(name).exists();
    holds("summary.csv")
        && holds("failures.csv")
        && Table::ALL.iter().all(|table| holds(table.name()))
}

/// Why a file that is called as recordings are is none.
fn left_out(path: &Path) -> Option<&'static str> {
    let is_text = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("txt"));
    let meta = path.metadata().ok().filter(std::fs::Metadata::is_file)?;
    if is_text && meta.len() == 0 {
        return Some("which is empty");
    }
    let mut head = Vec::new();
    File::open(path).ok()?.take(4_096).read_to_end(&mut head).ok()?;
    let first = head.split(|byte| *byte == b'\n').next()?.trim_ascii();
    let first = first.strip_prefix(b"file,").unwrap_or(first);
    let tables = [
        &breaths::COLUMNS[..],
        &events::COLUMNS,
        &minutes::COLUMNS,
        &steps::COLUMNS,
        &summary::COLUMNS,
    ];
    let names =
        |columns: &[Column]| columns.iter().map(|column| column.name).collect::<Vec<_>>().join(",");
    tables
        .iter()
        .any(|columns| first == names(columns).as_bytes())
        .then_some("a table of this program")
}

/// The recording at a path within the folder.
pub(super) fn of(folder: &Path, within: &Path) -> Found {
    let path = folder.join(within);
    let refused = match path.metadata() {
        Ok(meta) if meta.is_file() => None,
        Ok(meta) if meta.is_dir() => Some(UNLISTED),
        Ok(_) => Some("it is a pipe or a device; give it alone, as FILE"),
        Err(_) if path.is_symlink() => Some("it is a link that leads nowhere"),
        Err(_) => Some("it is not there"),
    };
    Found { path, within: within.into(), refused }
}

/// Takes away what a process that was killed had under way. One run at a time writes into a folder.
pub(super) fn remove_scratch(out: &Path) {
    for entry in WalkDir::new(out).into_iter().flatten() {
        let name = entry.file_name().as_encoded_bytes();
        if entry.file_type().is_file() && name.starts_with(b".tmp") && name.ends_with(b".part") {
            let _ = std::fs::remove_file(entry.path());
        }
    }
}

fn is_recording(path: &Path) -> bool {
    let Some((name, end)) = split(path) else { return false };
    let packed = PACKED.contains(&end.as_str());
    let inner = || split(&name).is_some_and(|(_, end)| TEXTS.contains(&end.as_str()));
    ENDS.contains(&end.as_str()) || packed && inner()
}

/// A path without its last ending, and the ending in lower case; hidden files have none.
fn split(path: &Path) -> Option<(PathBuf, String)> {
    let hidden = path.file_name()?.as_encoded_bytes().starts_with(b".");
    let end = path.extension().filter(|_| !hidden)?.to_string_lossy().to_ascii_lowercase();
    Some((path.with_extension(""), end))
}

/// A recording's name without what says how it is written: `a` of `a.csv.gz`.
pub(super) fn stem(path: &Path) -> PathBuf {
    match split(path) {
        Some((name, end)) if PACKED.contains(&end.as_str()) => name.with_extension(""),
        Some((name, _)) => name,
        None => path.to_path_buf(),
    }
}

/// A path in a table: with `/`, and as text; bytes that are none as `%` and their number.
pub(super) fn printed(within: &Path) -> String {
    let parts = within.components().map(|part| {
        let mut text = String::new();
        for chunk in part.as_os_str().as_encoded_bytes().utf8_chunks() {
            text.push_str(chunk.valid());
            chunk.invalid().iter().for_each(|byte| text.push_str(&format!("%{byte:02X}")));
        }
        text
    });
    parts.collect::<Vec<_>>().join("/")
}

/// The path with more behind its name.
pub(super) fn with_end(path: &Path, end: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(end);
    name.into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_tell_what_is_a_recording() {
        for name in ["a.csv", "b.CSV", "c.csv.gz", "d.txt.zst", "e.parquet", "f.hea", "g.edf"] {
            assert!(is_recording(Path::new(name)), "{name}");
        }
        for name in [".a.csv", "a.toml", "a.dat", "a.gz", "truth.json.gz", "csv", "a.csv.part"] {
            assert!(!is_recording(Path::new(name)), "{name}");
        }
        assert_eq!(stem(Path::new("x/a.csv.gz")), Path::new("x/a"));
        assert_eq!(stem(Path::new("a.b.csv")), Path::new("a.b"));
    }

    #[cfg(unix)]
    #[test]
    fn a_name_that_is_no_text_is_printed_by_its_bytes() {
        use std::os::unix::ffi::OsStrExt;
        let name = std::ffi::OsStr::from_bytes(b"n\xfft.csv");
        assert_eq!(printed(Path::new(name)), "n%FFt.csv");
    }
}
