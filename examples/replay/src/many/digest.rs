//! What tells a recording from another without reading all of it.

use std::fs::{File, Metadata};
use std::hash::{Hash, Hasher};
use std::io::{self, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

/// So many blocks of so many bytes are looked at, the first and the last among them; a file that is no larger is
/// read whole. Two recordings differ all over, and to read terabytes again would cost what a run does.
const BLOCKS: u64 = 16;
const BLOCK: u64 = 4_096;

/// Of a recording and of what it is read with: length, times and blocks of each file. The system sets the time of
/// the last change, which nobody can set back, so that a change between the blocks is seen too.
pub(super) fn digest(path: &Path, hasher: &mut impl Hasher) -> io::Result<()> {
    file(path, hasher)?;
    for beside in samples(path) {
        (&beside, file(&beside, hasher).is_ok()).hash(hasher);
    }
    Ok(())
}

fn file(path: &Path, hasher: &mut impl Hasher) -> io::Result<()> {
    let file = File::open(path)?;
    let meta = file.metadata()?;
    (meta.len(), meta.modified().ok(), changed(&meta)).hash(hasher);
    blocks(file, meta.len(), hasher)
}

fn blocks(mut file: impl Read + Seek, length: u64, hasher: &mut impl Hasher) -> io::Result<()> {
    let mut block = Vec::new();
    let last = length.saturating_sub(BLOCK);
    let step = (last / (BLOCKS - 1)).max(BLOCK);
    for from in (0..BLOCKS).map(|n| n * step).take_while(|from| *from < last).chain([last]) {
        block.clear();
        file.seek(SeekFrom::Start(from))?;
        file.by_ref().take(BLOCK).read_to_end(&mut block)?;
        block.hash(hasher);
    }
    Ok(())
}

#[cfg(unix)]
fn changed(meta: &Metadata) -> (i64, i64) {
    use std::os::unix::fs::MetadataExt;
    (meta.ctime(), meta.ctime_nsec())
}

#[cfg(not(unix))]
fn changed(_: &Metadata) {}

/// The files of samples that a WFDB header names, beside it.
fn samples(path: &Path) -> Vec<PathBuf> {
    let is_header = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("hea"));
    let mut text = String::new();
    // As much as a header of thousands of signals has.
    let most = |file: File| file.take(1 << 20).read_to_string(&mut text);
    if !is_header || File::open(path).and_then(most).is_err() {
        return Vec::new();
    }
    let lines = text.lines().filter(|line| !line.starts_with('#'));
    let names = lines.skip(1).filter_map(|line| line.split_whitespace().next());
    let mut names: Vec<_> = names.filter(|name| !name.contains(['/', '\\'])).collect();
    names.dedup();
    names.into_iter().map(|name| path.with_file_name(name)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::hash_map::DefaultHasher;
    use std::io::Cursor;

    #[test]
    fn blocks_tell_files_apart() {
        let of = |bytes: &[u8]| {
            let mut hasher = DefaultHasher::new();
            blocks(Cursor::new(bytes), bytes.len() as u64, &mut hasher).unwrap();
            hasher.finish()
        };
        let turned = |length: usize, at: usize| {
            let mut bytes = vec![7; length];
            bytes[at] = 8;
            of(&bytes)
        };
        // Every byte of a small file, of none, and of one of a whole number of blocks.
        for length in [1, 4_096, 4_097, 30_000, 65_536] {
            for at in (0..length).step_by(1_009).chain([length - 1]) {
                assert_ne!(turned(length, at), of(&vec![7; length]), "{at} of {length}");
            }
        }
        of(&[]);
        // Of a large one the first and the last 4,096, and those from 1/15 of what lies between on:
        // (1,000,000 - 4,096) / 15 = 66,393.
        let large = of(&vec![7; 1_000_000]);
        for at in [0, 4_095, 66_393, 70_488, 995_904, 999_999] {
            assert_ne!(turned(1_000_000, at), large, "{at}");
        }
        assert_eq!(turned(1_000_000, 4_096), large);
    }
}
