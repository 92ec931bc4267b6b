//! Many recordings at once: the same rows as one by one, and nothing done twice.

mod common;

use arrow_array::cast::AsArray;
use arrow_array::types::{Float64Type, Int64Type};
use arrow_schema::DataType;
use common::cli::{Outcome, replay_in};
use common::recording::{HEADER, wave};
use parquet::arrow::arrow_reader::ParquetRecordBatchReaderBuilder;
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// Four recordings, one of them in a folder of its own and one that cannot be read.
fn folder() -> TempDir {
    let folder = TempDir::new().unwrap();
    let put = |name: &str, text: &str| fs::write(folder.path().join(name), text).unwrap();
    fs::create_dir_all(folder.path().join("all/ward")).unwrap();
    for (name, from, seconds) in [("b", 3, 12), ("a", 0, 10), ("ward/c", 1, 125)] {
        put(&format!("all/{name}.csv"), &(HEADER.to_owned() + &wave(from, seconds)));
    }
    put("all/broken.csv", "when,flow\n1,2\n");
    put("all/notes.md", "not a recording");
    folder
}

fn many(folder: &Path, out: &str, extra: &[&str]) -> Outcome {
    replay_in(folder, &[&["--many", "all", "--out", out], extra].concat())
}

fn read(folder: &Path, name: &str) -> String {
    fs::read_to_string(folder.join(name)).unwrap_or_else(|why| panic!("{name}: {why}"))
}

/// Every file below a folder, by its path from there.
fn files(folder: &Path) -> Vec<String> {
    let mut names = Vec::new();
    let mut left = vec![PathBuf::new()];
    while let Some(within) = left.pop() {
        for entry in fs::read_dir(folder.join(&within)).unwrap() {
            let entry = entry.unwrap();
            let path = within.join(entry.file_name());
            if entry.path().is_dir() {
                left.push(path);
            } else {
                names.push(path.display().to_string());
            }
        }
    }
    names.sort();
    names
}

#[test]
fn rows_are_those_of_each_recording_alone() {
    let folder = folder();
    let folder = folder.path();
    let outcome = many(folder, "out", &["--tables", "csv"]);
    // One of them failed: the others are written, and it is said three ways.
    assert_eq!(outcome.code, 2, "{}", outcome.stderr);
    assert!(outcome.stderr.contains("failed: all/broken.csv:1:"), "{}", outcome.stderr);
    assert!(outcome.stderr.contains("1 of 4 recordings failed"), "{}", outcome.stderr);
    assert!(
        outcome.stdout.contains("of 3 recordings, 0 of them done before; 1 failed"),
        "{}",
        outcome.stdout
    );
    assert!(
        read(folder, "out/failures.csv")
            .starts_with("file,reason\nbroken.csv,\"all/broken.csv:1: no column")
    );
    for name in ["a.csv", "b.csv", "ward/c.csv"] {
        let alone =
            ["--quiet", "--breaths", "one.csv", "--events", "ev.csv", "--minutes", "min.csv"];
        assert_eq!(replay_in(folder, &[&[&*format!("all/{name}")][..], &alone].concat()).code, 0);
        for (table, alone) in [("breaths", "one.csv"), ("events", "ev.csv"), ("minutes", "min.csv")]
        {
            let expected: Vec<_> =
                read(folder, alone).lines().skip(1).map(|line| format!("{name},{line}")).collect();
            let found = read(folder, &format!("out/{table}/{name}.csv"));
            assert!(found.starts_with("file,"), "{found}");
            assert_eq!(found.lines().skip(1).collect::<Vec<_>>(), expected, "{table} of {name}");
        }
    }
    // Nothing of the one that failed, and no scratch file.
    let names = files(&folder.join("out"));
    assert_eq!(names.len(), 3 * 4 + 2, "{names:?}");
    assert!(names.iter().all(|name| !name.contains("broken")), "{names:?}");
    // Whichever core comes first: the same files again.
    many(folder, "again", &["--tables", "csv"]);
    assert_eq!(files(&folder.join("again")), names);
    for name in names {
        assert_eq!(
            read(folder, &format!("again/{name}")),
            read(folder, &format!("out/{name}")),
            "{name}"
        );
    }
}

#[test]
fn minutes_and_summary_are_sums_of_the_breaths() {
    let folder = folder();
    let folder = folder.path();
    many(folder, "out", &["--tables", "csv"]);
    let table = |name: &str| -> (Vec<String>, Vec<Vec<String>>) {
        let text = read(folder, name);
        let mut lines =
            text.lines().map(|line| line.split(',').map(Into::into).collect::<Vec<String>>());
        (lines.next().unwrap(), lines.collect())
    };
    let column = |(names, rows): &(Vec<String>, Vec<Vec<String>>), name: &str| -> Vec<f64> {
        let at = names.iter().position(|other| other == name).unwrap_or_else(|| panic!("{name}"));
        rows.iter().map(|row| row[at].parse().unwrap_or(f64::NAN)).collect()
    };
    let breaths = table("out/breaths/ward/c.csv.csv");
    let minutes = table("out/minutes/ward/c.csv.csv");
    // 125 s from 1 s on, a breath a second, 6000 samples a minute. An onset is dated between the last still
    // sample and the first of flow: the 61st breath begins just before its minute.
    assert_eq!(column(&minutes, "minute"), [0.0, 1.0, 2.0]);
    assert_eq!(column(&minutes, "start_us"), [1e6, 61e6, 121e6]);
    assert_eq!(column(&minutes, "samples"), [6_000.0, 6_000.0, 500.0]);
    assert_eq!(column(&minutes, "breaths"), [61.0, 60.0, 4.0]);
    // By trapezoids 30 mL/s x (0.29 + 0.005 + 0.0029) s = 8.94 mL of each breath; the first is flagged and does
    // not count: 60 x 8.94 = 536 mL.
    let inspired = column(&minutes, "trusted_insp_ml");
    assert!((inspired[0] - 536.0).abs() < 1.0 && (inspired[1] - 536.0).abs() < 1.0, "{inspired:?}");
    let onsets = column(&breaths, "onset_us");
    let summary = table("out/summary.csv");
    assert_eq!(
        summary.1.iter().map(|row| row[0].as_str()).collect::<Vec<_>>(),
        ["a.csv", "b.csv", "ward/c.csv"]
    );
    assert_eq!(column(&summary, "breaths")[2], onsets.len() as f64);
    // 12,500 samples 10 ms apart: 124.99 s are 0.0347 h, 100 a second.
    assert_eq!(column(&summary, "hours")[2], 0.0347);
    assert_eq!(column(&summary, "samples_per_s"), [100.0; 3]);
    assert_eq!(column(&summary, "flagged")[2], 2.0);
    assert!((column(&summary, "insp_mean_ml")[2] - 8.94).abs() < 0.02);
}

#[test]
fn parquet_holds_the_same_rows_with_their_units() {
    let folder = folder();
    let folder = folder.path();
    many(folder, "csv", &["--tables", "csv"]);
    many(folder, "parquet", &[]);
    for table in ["breaths", "events", "minutes"] {
        let text = read(folder, &format!("csv/{table}/ward/c.csv.csv"));
        let file = File::open(folder.join(format!("parquet/{table}/ward/c.csv.parquet"))).unwrap();
        let builder = ParquetRecordBatchReaderBuilder::try_new(file).unwrap();
        for field in builder.schema().fields() {
            let unit = field.metadata().get("unit").map(String::as_str);
            let expected = match field.name().as_str() {
                "insp_ml" | "exp_ml" => Some("mL"),
                name if name.ends_with("_us") => Some("us"),
                "compliance_ml_per_cmH2O" => Some("mL/cmH2O"),
                _ => unit,
            };
            assert_eq!(unit, expected, "{}", field.name());
            assert!(unit.is_some() || *field.data_type() != DataType::Float64, "{}", field.name());
        }
        let mut lines = text.lines().skip(1);
        for batch in builder.build().unwrap() {
            let batch = batch.unwrap();
            for row in 0..batch.num_rows() {
                for (cell, column) in lines.next().unwrap().split(',').zip(batch.columns()) {
                    let same = match column.data_type() {
                        DataType::Utf8 => {
                            column.as_string::<i32>().value(row) == cell.trim_matches('"')
                        }
                        DataType::Int64 => {
                            column.as_primitive::<Int64Type>().value(row).to_string() == cell
                        }
                        _ if column.is_null(row) => cell.is_empty(),
                        _ => {
                            (column.as_primitive::<Float64Type>().value(row)
                                - cell.parse::<f64>().unwrap())
                            .abs()
                                <= 0.051
                        }
                    };
                    assert!(same || cell.contains('"'), "{table}: {cell}");
                }
            }
        }
        assert_eq!(lines.next(), None);
    }
}

#[test]
fn a_killed_run_goes_on_where_it_was() {
    let folder = folder();
    let folder = folder.path();
    many(folder, "out", &[]);
    let stamp = |name: &str| folder.join("out").join(name).metadata().unwrap().modified().unwrap();
    let (a, c) = (stamp("breaths/a.csv.parquet"), stamp("breaths/ward/c.csv.parquet"));
    // As if it had been killed within b, and a recording had come anew.
    fs::remove_file(folder.join("out/summary/b.csv.csv")).unwrap();
    fs::remove_file(folder.join("out/summary.csv")).unwrap();
    fs::write(folder.join("out/breaths/.tmpX1y2Z3.part"), "half").unwrap();
    fs::write(folder.join("all/d.csv"), HEADER.to_owned() + &wave(0, 5)).unwrap();
    let outcome = many(folder, "out", &[]);
    assert!(
        outcome.stdout.contains("of 4 recordings, 2 of them done before; 1 failed"),
        "{}",
        outcome.stdout
    );
    assert_eq!((stamp("breaths/a.csv.parquet"), stamp("breaths/ward/c.csv.parquet")), (a, c));
    assert_eq!(read(folder, "out/summary.csv").lines().count(), 5);
    assert!(!folder.join("out/breaths/.tmpX1y2Z3.part").exists());
    // Another recording under the same name, other settings: done again. A broken one takes its tables away.
    fs::write(folder.join("all/a.csv"), HEADER.to_owned() + &wave(0, 20)).unwrap();
    fs::write(folder.join("all/b.csv"), "nothing\n").unwrap();
    let outcome = many(folder, "out", &[]);
    assert!(
        outcome.stdout.contains("of 3 recordings, 2 of them done before; 2 failed"),
        "{}",
        outcome.stdout
    );
    assert!(!folder.join("out/breaths/b.csv.parquet").exists());
    let outcome = many(folder, "out", &["--weight-g", "900"]);
    assert!(
        outcome.stdout.contains("of 3 recordings, 0 of them done before"),
        "{}",
        outcome.stdout
    );
}

/// What has the length and the time of what was done before is done again all the same where it is another.
#[test]
fn a_recording_changed_behind_its_time_is_done_again() {
    let folder = folder();
    let folder = folder.path();
    let change = |name: &str, change: &dyn Fn(&mut Vec<u8>)| {
        let path = folder.join("all").join(name);
        let time = path.metadata().unwrap().modified().unwrap();
        let mut bytes = fs::read(&path).unwrap();
        change(&mut bytes);
        fs::write(&path, bytes).unwrap();
        File::options().write(true).open(&path).unwrap().set_modified(time).unwrap();
    };
    fs::remove_file(folder.join("all/broken.csv")).unwrap();
    // 300 kB, of which blocks alone are looked at.
    fs::write(folder.join("all/ward/c.csv"), HEADER.to_owned() + &wave(0, 150)).unwrap();
    // A WFDB record is found by its header, and its samples stand beside it.
    let header =
        "r 2 100 400\nr.dat 16 100(0)/mL/s 16 0 0 0 0 flow\nr.dat 16 200(0)/cmH2O 16 0 0 0 0 paw\n";
    fs::write(folder.join("all/r.hea"), header).unwrap();
    fs::write(folder.join("all/r.dat"), [1; 1_600]).unwrap();
    let done = || {
        let outcome = many(folder, "out", &[]);
        assert_eq!(outcome.code, 0, "{}", outcome.stderr);
        outcome.stdout.split("recordings, ").nth(1).unwrap().split(' ').next().unwrap().to_owned()
    };
    assert_eq!((done(), done()), ("0".into(), "4".into()));
    change("a.csv", &|bytes| bytes[200] = b'1');
    assert_eq!(done(), "3");
    change("ward/c.csv", &|bytes| bytes[150_000..150_040].rotate_left(20));
    // Where the system keeps no time of the last change, one within a large file is not seen.
    assert_eq!(done(), if cfg!(unix) { "3" } else { "4" });
    change("r.dat", &|bytes| bytes[800] = 2);
    assert_eq!(done(), "3");
    assert_eq!(done(), "4");
}

/// A folder that cannot be listed is one failure, and what stands beside it is done.
#[cfg(unix)]
#[test]
fn a_folder_that_cannot_be_read_is_a_failure() {
    let folder = folder();
    let folder = folder.path();
    fs::remove_file(folder.join("all/broken.csv")).unwrap();
    // Folders in folders until their path is longer than a system takes, 4,096 bytes.
    let deep = |name: &str| (0..12).fold(PathBuf::from(name), |path, _| path.join("d".repeat(200)));
    fs::create_dir_all(folder.join("all").join(deep("deep"))).unwrap();
    fs::create_dir_all(folder.join(deep("more"))).unwrap();
    fs::rename(folder.join("more"), folder.join("all").join(deep("deep")).join("more")).unwrap();
    let outcome = many(folder, "out", &["--tables", "csv"]);
    assert_eq!(outcome.code, 2, "{}", outcome.stderr);
    assert!(
        outcome.stdout.contains("of 3 recordings, 0 of them done before; 1 failed"),
        "{}",
        outcome.stdout
    );
    assert!(outcome.stderr.contains("1 of 4 recordings failed"), "{}", outcome.stderr);
    let failures = read(folder, "out/failures.csv");
    assert_eq!(failures.lines().count(), 2, "{failures}");
    assert!(failures.lines().nth(1).unwrap().starts_with("deep/dddd"), "{failures}");
    assert!(failures.contains("cannot be listed"), "{failures}");
    assert_eq!(read(folder, "out/summary.csv").lines().count(), 4);
}

#[test]
fn recordings_have_settings_of_their_own() {
    let folder = folder();
    let folder = folder.path();
    fs::remove_file(folder.join("all/broken.csv")).unwrap();
    let put = |name: &str, text: &str| fs::write(folder.join(name), text).unwrap();
    let semicolons = wave(0, 10).replace(',', ";");
    put("all/a.csv", &format!("Zeit;Fluss;Druck\n{semicolons}"));
    put(
        "all/a.toml",
        "recording.columns = [\"time=Zeit:us\", \"flow=Fluss:mL/s\", \"pressure=Druck:cmH2O\"]\n",
    );
    put("all/b.csv.toml", "min_volume_ml = 20.0\n");
    put("each.csv", "file,weight_g,min_volume_ml\nb.csv,,3\nward/c.csv,1200,30\n");
    let outcome = many(folder, "out", &["--each", "each.csv", "--tables", "csv"]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    let breaths = |name: &str| read(folder, &format!("out/breaths/{name}.csv")).lines().count() - 1;
    // Inflations of 9 mL: no turn where one takes 20 or 30 mL. What stands beside goes before the table.
    assert_eq!((breaths("a.csv"), breaths("b.csv"), breaths("ward/c.csv")), (10, 0, 0));
    for (each, said) in [
        ("file,weight\nb.csv,900\n", "each.csv:2"),
        ("name,weight_g\nb.csv,900\n", "no column is called file"),
        ("file,weight_g\nz.csv,900\n", "the table names \"z.csv\""),
        ("file,weight_g,weight_g\nb.csv,900,901\n", "two columns are called \"weight_g\""),
        ("file,weight_g\nb.csv,900\nb.csv,901\n", "each.csv:3: \"b.csv\" stands in it twice"),
    ] {
        put("each.csv", each);
        let outcome = many(folder, "other", &["--each", "each.csv"]);
        assert!(outcome.code == 2 && outcome.stderr.contains(said), "{}", outcome.stderr);
        assert!(!folder.join("other").exists(), "{each}");
    }
}

#[cfg(unix)]
#[test]
fn odd_names_are_kept_apart_and_tamed() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    use std::process::Command;
    let folder = TempDir::new().unwrap();
    let folder = folder.path();
    fs::create_dir(folder.join("all")).unwrap();
    let text = HEADER.to_owned() + &wave(0, 5);
    for name in [&b"=1+1.csv"[..], b"@x.csv", b"n\xff.csv", b"n\xfe.csv", b"two words, one.csv"] {
        fs::write(folder.join("all").join(OsStr::from_bytes(name)), &text).unwrap();
    }
    assert!(Command::new("mkfifo").arg(folder.join("all/pipe.csv")).status().unwrap().success());
    std::os::unix::fs::symlink("nowhere", folder.join("all/link.csv")).unwrap();
    let outcome = many(folder, "all/out", &["--tables", "csv"]);
    assert_eq!(outcome.code, 2);
    let summary = read(folder, "all/out/summary.csv");
    for name in ["'=1+1.csv,", "'@x.csv,", "n%FF.csv,", "n%FE.csv,", "\"two words, one.csv\","] {
        assert!(summary.lines().any(|line| line.starts_with(name)), "{name}: {summary}");
    }
    let failures = read(folder, "all/out/failures.csv");
    assert!(
        failures.contains("pipe.csv,") && failures.contains("give it alone, as FILE"),
        "{failures}"
    );
    assert!(failures.contains("link.csv,") && failures.contains("leads nowhere"), "{failures}");
    // Results within the folder are no recordings.
    assert!(
        many(folder, "all/out", &["--tables", "csv"])
            .stdout
            .contains("of 5 recordings, 5 of them done before")
    );
}

#[cfg(unix)]
#[test]
fn an_interrupted_run_leaves_no_scratch_file() {
    use std::process::{Command, Stdio};
    use std::time::{Duration, Instant};
    for signal in ["INT", "TERM"] {
        let folder = TempDir::new().unwrap();
        let folder = folder.path();
        fs::create_dir(folder.join("all")).unwrap();
        fs::write(folder.join("all/long.csv"), HEADER.to_owned() + &wave(0, 20_000)).unwrap();
        let mut child = Command::new(env!("CARGO_BIN_EXE_replay"))
            .args(["--many", "all", "--out", "out", "--tables", "csv"])
            .current_dir(folder)
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let begun = Instant::now();
        let scratch = || folder.join("out").is_dir() && files(&folder.join("out")).len() == 4;
        while !scratch() {
            assert!(
                begun.elapsed() < Duration::from_secs(60) && child.try_wait().unwrap().is_none()
            );
            std::thread::sleep(Duration::from_millis(1));
        }
        assert!(
            Command::new("kill")
                .args(["-s", signal, &child.id().to_string()])
                .status()
                .unwrap()
                .success()
        );
        assert_eq!(child.wait().unwrap().code(), Some(130), "{signal}");
        assert_eq!(files(&folder.join("out")), [""; 0], "{signal}");
    }
}

#[test]
fn what_cannot_work_is_refused_and_nothing_written() {
    let folder = folder();
    let folder = folder.path();
    fs::create_dir(folder.join("empty")).unwrap();
    fs::create_dir(folder.join("bad")).unwrap();
    fs::write(folder.join("bad/x.csv"), "nothing").unwrap();
    fs::write(folder.join("file"), "").unwrap();
    for (args, reason) in [
        (&["--many", "all", "--out", "all"][..], "the folder of the recordings"),
        (&["--many", "all", "--out", "file"], "a folder for the tables"),
        (&["--many", "empty", "--out", "x"], "holds no recording"),
        (&["--many", "gone", "--out", "x"], "cannot read the folder"),
        (&["--many", "all"], "--out"),
        (&["--many", "all", "--out", "x", "--chart", "c.svg"], "cannot be used with"),
        (&["--many", "all", "--out", "x", "--weight-g", "0"], "weight"),
        (&["--many", "bad", "--out", "y"], "none of the 1 recordings"),
    ] {
        let outcome = replay_in(folder, args);
        assert!(
            outcome.code == 2 && outcome.stderr.contains(reason),
            "{args:?}: {}",
            outcome.stderr
        );
        assert!(!folder.join("x").exists(), "{args:?}");
    }
    assert_eq!(files(&folder.join("y")), ["failures.csv", "summary.csv"]);
}

#[test]
fn what_is_in_doubt_is_named_in_the_summary_and_once_on_standard_error() {
    let folder = TempDir::new().unwrap();
    let put = |name: &str, text: &str| {
        fs::create_dir_all(folder.path().join("all")).unwrap();
        fs::write(folder.path().join("all").join(name), text).unwrap();
    };
    put("good.csv", &(HEADER.to_owned() + &wave(0, 60)));
    // In kPa under a header of cmH2O: a tenth of it.
    let kpa = wave(0, 60).lines().fold(HEADER.to_owned(), |text, line| {
        let cells: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
        text + &format!("{},{},{:.4}\n", cells[0], cells[1], cells[2] / 10.197)
    });
    put("kpa.csv", &kpa);
    let outcome = many(folder.path(), "out", &["--tables", "csv"]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    let said = "1 of 2 recordings are in doubt: their figures are not to be believed; the column doubt of out/summary.csv";
    assert_eq!(outcome.stderr.matches(said).count(), 1, "{}", outcome.stderr);
    let summary = read(folder.path(), "out/summary.csv");
    let lines: Vec<_> = summary.lines().collect();
    assert!(lines[0].ends_with(",blind_s,doubt,fingerprint"), "{summary}");
    let doubt = |line: &str| line.split(',').rev().nth(1).unwrap().to_owned();
    assert_eq!(doubt(lines[1]), "", "{summary}");
    assert!(
        lines[2].contains("is it in kPa (times 10.2)?; 39 of 60 breaths cannot be"),
        "{summary}"
    );
}

#[test]
fn what_is_no_recording_is_left_out_and_told_once() {
    let folder = TempDir::new().unwrap();
    let all = folder.path().join("all");
    fs::create_dir_all(&all).unwrap();
    fs::write(all.join("a.csv"), HEADER.to_owned() + &wave(0, 10)).unwrap();
    // An empty note, the tables of another run, and a table of a single one.
    fs::write(all.join("notes.txt"), "").unwrap();
    assert_eq!(many(folder.path(), "all/earlier", &["--tables", "csv"]).code, 0);
    assert_eq!(replay_in(folder.path(), &["all/a.csv", "--events", "all/events.csv"]).code, 0);
    let outcome = many(folder.path(), "out", &[]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    assert!(outcome.stdout.contains("of 1 recordings"), "{}", outcome.stdout);
    for said in [
        "left out: all/notes.txt, which is empty",
        "left out: all/earlier, the tables of an earlier run",
        "left out: all/events.csv, a table of this program",
    ] {
        assert_eq!(outcome.stderr.matches(said).count(), 1, "{said}: {}", outcome.stderr);
    }
    // An empty recording is a failure.
    fs::write(all.join("b.csv"), "").unwrap();
    let outcome = many(folder.path(), "out", &[]);
    assert!(outcome.code == 2 && outcome.stderr.contains("b.csv is empty"), "{}", outcome.stderr);
}
