//! The readers of recordings that are files with a header: WFDB and EDF.
//!
//! - Whatever the bytes, a recording is refused with a reason, or each of its rows is a reading or a reason.
//! - Rows are no more than the bytes could hold, and their numbers never fall.
//! - Read again, the same.

use super::csv::Line;
use std::fs;
use std::path::Path;

/// What a file says, row by row; or why nothing.
pub type Read = fn(&Path) -> Result<Vec<Line>, String>;

/// A WFDB record: its header up to a zero byte, its samples in `a.dat` behind.
///
/// # Panics
/// Where one of the above does not hold.
pub fn wfdb(data: &[u8], read: Read) {
    let split = data.iter().position(|byte| *byte == 0).unwrap_or(data.len());
    let (header, samples) = data.split_at(split);
    check(&[("a.hea", header), ("a.dat", samples.get(1..).unwrap_or(&[]))], read);
}

/// An EDF recording.
///
/// # Panics
/// Where one of the above does not hold.
pub fn edf(data: &[u8], read: Read) {
    check(&[("a.edf", data)], read);
}

fn check(files: &[(&str, &[u8])], read: Read) {
    let folder = tempfile::tempdir().expect("a folder");
    for (name, bytes) in files {
        fs::write(folder.path().join(name), bytes).expect("a file");
    }
    let path = folder.path().join(files[0].0);
    let once = read(&path);
    assert_eq!(once, read(&path), "read again");
    let bytes: usize = files.iter().map(|(_, bytes)| bytes.len()).sum();
    match once {
        Err(why) => assert!(!why.is_empty(), "refused without a reason"),
        Ok(rows) => {
            assert!(rows.len() <= bytes + 1, "{} rows of {bytes} bytes", rows.len());
            assert!(rows.windows(2).all(|pair| pair[0].0 <= pair[1].0), "numbers fall");
            let reasons = rows.iter().filter_map(|(_, row)| row.as_ref().err());
            assert!(reasons.into_iter().all(|why| !why.is_empty()), "a row without a reason");
        }
    }
}
