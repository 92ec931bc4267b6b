//! Many recordings at once: the same rows as one by one, in the order of the names.

mod common;

use common::cli::replay_in;
use common::recording::{HEADER, wave};
use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::Field;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

fn folder() -> TempDir {
    let folder = TempDir::new().unwrap();
    let put = |name: &str, text: &str| fs::write(folder.path().join(name), text).unwrap();
    fs::create_dir(folder.path().join("all")).unwrap();
    for (name, from, seconds) in [("b", 3, 12), ("a", 0, 10), ("c", 1, 25)] {
        put(&format!("all/{name}.csv"), &(HEADER.to_owned() + &wave(from, seconds)));
    }
    put("all/broken.csv", "time,flow\n1,2\n");
    put("all/notes.txt", "not a recording");
    folder
}

fn many(folder: &Path, out: &str) -> common::cli::Outcome {
    replay_in(folder, &["--many", "all", "--out", out])
}

#[test]
fn rows_are_those_of_each_recording_alone() {
    let folder = folder();
    let outcome = many(folder.path(), "all.csv");
    // One of them failed: the others are written, and it is said both ways.
    assert_eq!(outcome.code, 2, "{}", outcome.stderr);
    assert!(outcome.stderr.contains("failed: all/broken.csv:1:"), "{}", outcome.stderr);
    assert!(outcome.stderr.contains("1 of 4 recordings failed"), "{}", outcome.stderr);
    assert!(outcome.stdout.contains("of 3 recordings; 1 failed"), "{}", outcome.stdout);
    let read = |name: &str| fs::read_to_string(folder.path().join(name)).unwrap();
    let mut expected = vec![];
    for name in ["a.csv", "b.csv", "c.csv"] {
        let file = format!("all/{name}");
        assert_eq!(replay_in(folder.path(), &[&file, "--quiet", "--breaths", "one.csv"]).code, 0);
        expected.extend(read("one.csv").lines().skip(1).map(|line| format!("{name},{line}")));
    }
    let found = read("all.csv");
    assert!(found.starts_with("file,onset_us,end_insp_us,end_us,kind,"));
    assert_eq!(found.lines().skip(1).collect::<Vec<_>>(), expected);
    // Whichever core comes first: the same file again.
    assert_eq!(many(folder.path(), "again.csv").code, 2);
    assert_eq!(read("again.csv"), found);
}

#[test]
fn parquet_holds_the_same_breaths() {
    let folder = folder();
    fs::remove_file(folder.path().join("all/broken.csv")).unwrap();
    assert_eq!(many(folder.path(), "all.csv").code, 0);
    assert_eq!(many(folder.path(), "all.parquet").code, 0);
    let text = fs::read_to_string(folder.path().join("all.csv")).unwrap();
    let file = fs::File::open(folder.path().join("all.parquet")).unwrap();
    let reader = SerializedFileReader::new(file).unwrap();
    let rows: Vec<_> = reader.get_row_iter(None).unwrap().map(Result::unwrap).collect();
    assert_eq!(rows.len(), text.lines().count() - 1);
    for (row, line) in rows.iter().zip(text.lines().skip(1)) {
        for ((_, field), cell) in row.get_column_iter().zip(line.split(',')) {
            match field {
                Field::Null => assert_eq!(cell, ""),
                Field::Double(x) => assert!((x - cell.parse::<f64>().unwrap()).abs() <= 0.051),
                Field::Long(x) => assert_eq!(x.to_string(), cell),
                Field::Str(x) => assert_eq!(x, cell),
                other => panic!("{other:?}"),
            }
        }
    }
}

#[test]
fn what_cannot_work_is_refused_and_nothing_written() {
    let folder = folder();
    fs::create_dir(folder.path().join("empty")).unwrap();
    fs::create_dir(folder.path().join("bad")).unwrap();
    fs::write(folder.path().join("bad/x.csv"), "nothing").unwrap();
    for (args, reason) in [
        (&["--many", "all", "--out", "x.txt"][..], ".csv or .parquet"),
        (&["--many", "empty", "--out", "x.csv"], "holds no .csv"),
        (&["--many", "bad", "--out", "x.csv"], "none of the 1 recordings"),
        (&["--many", "gone", "--out", "x.csv"], "cannot read the folder"),
        (&["--many", "all"], "--out"),
        (&["--many", "all", "--out", "x.csv", "--chart", "c.svg"], "cannot be used with"),
    ] {
        let outcome = replay_in(folder.path(), args);
        assert!(outcome.code == 2 && outcome.stderr.contains(reason), "{}", outcome.stderr);
        assert!(!folder.path().join("x.csv").exists() && !folder.path().join("x.txt").exists());
    }
}

#[test]
fn a_result_never_takes_a_recordings_place() {
    let folder = folder();
    let before = fs::read(folder.path().join("all/a.csv")).unwrap();
    std::os::unix::fs::symlink("all/a.csv", folder.path().join("link.csv")).unwrap();
    for out in ["all/a.csv", "all/../all/a.csv", "link.csv"] {
        let outcome = many(folder.path(), out);
        assert_eq!(outcome.code, 2, "{}", outcome.stderr);
        assert!(outcome.stderr.contains("--out is one of the recordings"), "{}", outcome.stderr);
        assert_eq!(fs::read(folder.path().join("all/a.csv")).unwrap(), before);
    }
}
