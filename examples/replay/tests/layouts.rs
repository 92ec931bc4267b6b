//! One recording written in many ways: from each the same breaths, with at most one option.

mod common;

use common::cli::replay_from;
use common::recording::{Folder, HEADER};
use common::written::{same, samples, text};
use edf_rs::EDFSpecifications;
use edf_rs::file::EDFFile;
use edf_rs::headers::signal_header::SignalHeader;
use edf_rs::record::Samples;
use std::fs::{self, File};
use std::io::Write;

fn iso(us: i64) -> String {
    // 2024-03-31T00:00:00Z and on: ten seconds need no minutes.
    format!("2024-03-31T00:00:{:09.6}Z", us as f64 / 1e6)
}

#[test]
fn texts_need_no_option_where_nothing_is_ambiguous() {
    let folder = Folder::new();
    let comma = |x: f64| format!("{x:.3}").replace('.', ",");
    let seconds = |us: i64| us as f64 / 1e6;
    let put = |name: &str, text: String| fs::write(folder.path(name), text).unwrap();
    put(
        "semicolon.csv",
        text("t_s;flow_ml_per_s;paw_cmH2O", |us, flow, pressure| {
            format!("{};{};{}", comma(seconds(us)), comma(flow), comma(pressure))
        }),
    );
    let said = same(&folder, &["semicolon.csv"]).stderr;
    assert!(said.contains("semicolon between cells; decimal comma"), "{said}");

    put(
        "tab.txt",
        text("Time (s)\tFlow (mL/s)\tPaw [hPa]", |us, flow, pressure| {
            format!("{}\t{flow}\t{}", seconds(us), pressure * 0.980_665)
        }),
    );
    let said = same(&folder, &["tab.txt"]).stderr;
    assert!(said.contains("tab between cells; time = \"Time (s)\" in s"), "{said}");

    put(
        "comments.csv",
        format!(
            "# made up\n{}",
            text("t_us,flow_ml_per_s,paw_cmH2O", |us, flow, pressure| {
                let note = if us == 3_000_000 { "# a remark\n" } else { "" };
                format!("{note}{us},{flow},{pressure}")
            })
        ),
    );
    let said = same(&folder, &["comments.csv"]).stderr;
    assert!(said.contains("are comments"), "{said}");

    put(
        "iso.csv",
        text("time,flow_ml_per_s,paw_cmH2O", |us, flow, pressure| {
            format!("{},{flow},{pressure}", iso(us))
        }),
    );
    same(&folder, &["iso.csv"]);

    put(
        "blanks.txt",
        text("t_us flow_ml_per_s paw_cmH2O", |us, flow, pressure| {
            format!("{us:>9} {flow:>8.3}\t{pressure:>8.3}")
        }),
    );
    same(&folder, &["blanks.txt"]);
    // The plain one says nothing.
    assert_eq!(same(&folder, &["in.csv"]).stderr, "");
}

#[test]
fn other_names_and_units_are_said_once() {
    let folder = Folder::new();
    let put = |name: &str, text: String| fs::write(folder.path(name), text).unwrap();
    put(
        "names.csv",
        text("Zeit,Fluss,Druck,Note", |us, flow, pressure| {
            format!("{},{},{},x", us as f64 / 1e3, -flow * 0.06, pressure * 0.735_559)
        }),
    );
    let columns = "time=Zeit:ms,flow=-Fluss:L/min,pressure=Druck:mmHg";
    same(&folder, &["names.csv", "--columns", columns]);
    put(
        "s.toml",
        format!(
            "[recording]\ncolumns = [{:?}, {:?}, {:?}]\n",
            "time=Zeit:ms", "flow=-Fluss:L/min", "pressure=Druck:mmHg"
        ),
    );
    same(&folder, &["names.csv", "--settings", "s.toml"]);
    // Without a header, columns are counted; without times, samples are.
    put(
        "bare.csv",
        text("", |us, flow, pressure| format!("{pressure};{flow};{us}")).trim_start().into(),
    );
    same(&folder, &["bare.csv", "--columns", "time=3:us,flow=2:mL/s,pressure=1:cmH2O"]);
    put(
        "untimed.csv",
        text("flow_ml_per_s,paw_cmH2O", |_, flow, pressure| format!("{flow},{pressure}")),
    );
    same(&folder, &["untimed.csv", "--rate-hz", "100"]);
}

/// What is saved to try things on is the beginning of what is replayed without a recording.
#[test]
fn the_demo_is_saved_in_both_kinds() {
    let folder = Folder::new();
    for name in ["demo.csv", "demo.parquet"] {
        assert_eq!(folder.run(&["--save-demo", name]).code, 0);
        let outcome =
            folder.run(&[name, "--weight-g", "980", "--breaths", "b.csv", "--minutes", "m.csv"]);
        assert!(outcome.stdout.contains("360000 samples over 60 min"), "{}", outcome.stdout);
        assert_eq!(folder.read("m.csv").lines().count(), 61);
        fs::rename(folder.path("b.csv"), folder.path(&format!("{name}.breaths"))).unwrap();
    }
    assert_eq!(folder.read("demo.csv.breaths"), folder.read("demo.parquet.breaths"));
    assert!(folder.read("demo.csv").starts_with("t_us,flow_ml_per_s,paw_cmH2O\n0,"));
}

#[test]
fn packed_texts_are_unpacked() {
    let folder = Folder::new();
    let plain = folder.read("in.csv");
    let gz = File::create(folder.path("a.csv.gz")).unwrap();
    let mut gz = flate2::write::GzEncoder::new(gz, flate2::Compression::fast());
    gz.write_all(plain.as_bytes()).unwrap();
    gz.finish().unwrap();
    fs::write(folder.path("a.csv.zst"), zstd::encode_all(plain.as_bytes(), 1).unwrap()).unwrap();
    same(&folder, &["a.csv.gz"]);
    same(&folder, &["a.csv.zst"]);
    // One that ends too early says so, and what came before is not taken for the whole.
    let packed = fs::read(folder.path("a.csv.gz")).unwrap();
    fs::write(folder.path("short.csv.gz"), &packed[..packed.len() / 2]).unwrap();
    let outcome = folder.run(&["short.csv.gz"]);
    assert_eq!(outcome.code, 2);
    assert!(outcome.stderr.contains("cannot read short.csv.gz"), "{}", outcome.stderr);
    // From a pipe too.
    let outcome = replay_from(&folder.path("a.csv.gz"), folder.0.path(), &["-", "--quiet"]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
}

/// A recording whose header says that it began on 31 March 2024 at 11:00:00.
fn told_by_the_clock(folder: &Folder, name: &str) {
    let said = same(folder, &[name]).stderr;
    assert!(said.contains("--zone is not given for 2024-03-31T11:00:00"), "{said}");
    let said = same(folder, &[name, "--zone", "Europe/Berlin"]).stderr;
    assert!(!said.contains("--zone"), "{said}");
    let args = ["--zone", "Europe/Berlin", "--quiet", "--breaths", "b.csv", "--chart", "c.svg"];
    folder.run(&[&[name][..], &args].concat());
    // 11:00 in Berlin is 09:00 UTC, 1,711,875,600 s after 1970.
    assert!(folder.read("b.csv").lines().nth(1).unwrap().starts_with("1711875600"));
    let chart = folder.read("c.svg");
    assert!(chart.contains("clock time, CEST") && chart.contains("11:00:04"), "{chart}");
}

#[test]
fn a_wfdb_record_is_read() {
    let folder = Folder::new();
    // 100 samples a mL/s about -500 and 200 a cmH2O, both in one file of 16 bits, as the format has it.
    let mut bytes = Vec::new();
    for (_, flow, pressure) in samples() {
        bytes.extend(((flow * 100.0).round() as i16 - 500).to_le_bytes());
        bytes.extend(((pressure * 200.0).round() as i16).to_le_bytes());
    }
    fs::write(folder.path("a.dat"), &bytes).unwrap();
    let header = "a 2 100 1000\n\
                  a.dat 16 100(-500)/mL/s 16 0 0 0 0 flow\n\
                  a.dat 16 200(0)/cmH2O 16 0 0 0 0 paw\n";
    fs::write(folder.path("a.hea"), header).unwrap();
    same(&folder, &["a.hea"]);
    // A header that promises fewer: said, and all is read.
    fs::write(folder.path("few.hea"), header.replace(" 1000", " 900")).unwrap();
    let said = same(&folder, &["few.hea"]).stderr;
    assert!(said.contains("1000 samples where its header promises 900"), "{said}");
    // With the clock of where it was made.
    fs::write(folder.path("at.hea"), header.replace(" 1000", " 1000 11:00:00 31/03/2024")).unwrap();
    told_by_the_clock(&folder, "at.hea");
    // Cut short: said, and what is there is read.
    fs::write(folder.path("a.dat"), &bytes[..bytes.len() / 2]).unwrap();
    let outcome = folder.run(&["a.hea", "--quiet"]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    assert!(outcome.stderr.contains("a.hea: sample 500: it ends here"), "{}", outcome.stderr);
    assert_eq!(folder.run(&["a.hea", "--strict"]).code, 2);
    for (wrong, said) in [
        (header.replace("a.dat", "../a.dat"), "no file beside it"),
        (header.replace("a.dat", "/etc/passwd"), "no file beside it"),
        (header.replace(" 16 100", " 310 100"), "formats 16, 24, 32 and 212"),
        (header.replace(" 16 100", " 16x2 100"), "unlike rates"),
        (header.replace("a.dat", "b.dat"), "b.dat"),
        (header.replace("mL/s", "gal/h"), "has no unit"),
        ("a\n".into(), ""),
    ] {
        fs::write(folder.path("bad.hea"), wrong).unwrap();
        let outcome = folder.run(&["bad.hea"]);
        assert_eq!(outcome.code, 2, "{said}: {}", outcome.stdout);
        assert!(
            outcome.stderr.contains("bad.hea") && outcome.stderr.contains(said),
            "{}",
            outcome.stderr
        );
    }
}

#[test]
fn an_edf_recording_is_read() {
    let folder = Folder::new();
    let path = folder.path("a.edf");
    let mut edf = EDFFile::new(&path).unwrap();
    edf.header
        .with_specification(EDFSpecifications::EDFPlus)
        .with_is_continuous(true)
        .with_record_duration(1.0);
    let signal = |label: &str, unit: &str, most: f64| {
        let mut signal = SignalHeader::new();
        signal
            .with_label(label.into())
            .with_physical_dimension(unit.into())
            .with_physical_range(-most, most)
            .with_digital_range(-32_000, 32_000)
            .with_samples_count(100);
        signal
    };
    edf.insert_signal(0, signal("Paw", "cmH2O", 32.0)).unwrap();
    edf.insert_signal(1, SignalHeader::new_annotation(40, EDFSpecifications::EDFPlus)).unwrap();
    edf.insert_signal(2, signal("Flow", "L/min", 3.2)).unwrap();
    for (n, second) in samples().chunks(100).enumerate() {
        let mut record = edf.header.create_record();
        let digital = |values: Vec<f64>, most: f64| {
            let digital = values.iter().map(|x| (x / most * 32_000.0).round() as i16);
            Samples::Values16Bit(digital.collect())
        };
        record.raw_signal_samples = vec![
            digital(second.iter().map(|s| s.2).collect(), 32.0),
            digital(second.iter().map(|s| s.1 * 0.06).collect(), 3.2),
        ];
        record.annotations =
            vec![vec![edf_rs::headers::annotation_list::AnnotationList::new_time_keeping(
                n as f64,
            )]];
        edf.append_record(record).unwrap();
    }
    edf.save().unwrap();
    same(&folder, &["a.edf"]);
    // With the clock of where it was made, in place of that on which this was written.
    let mut dated = fs::read(&path).unwrap();
    dated[88..168].copy_from_slice(format!("{:80}", "Startdate 31-MAR-2024 X X X").as_bytes());
    dated[168..184].copy_from_slice(b"31.03.2411.00.00");
    fs::write(folder.path("at.edf"), dated).unwrap();
    told_by_the_clock(&folder, "at.edf");
    // A header that promises more records than there are, fewer, or does not know: all that is there is read.
    let whole = fs::read(&path).unwrap();
    for (records, said) in [
        ("25      ", "sample 1000: it ends here, where its header promises 25 records"),
        ("4       ", "10 records where its header promises 4"),
        ("-1      ", ""),
    ] {
        let mut bytes = whole.clone();
        bytes[236..244].copy_from_slice(records.as_bytes());
        fs::write(&path, bytes).unwrap();
        let outcome = same(&folder, &["a.edf"]);
        assert!(outcome.stderr.contains(said), "{records}: {}", outcome.stderr);
    }
    // The first of these is refused, the second says where it ends.
    for (name, length, code, said) in [
        ("head.edf", 1_100, 2, "not one whole record"),
        ("cut.edf", whole.len() - 300, 0, "it ends here"),
    ] {
        fs::write(folder.path(name), &whole[..length]).unwrap();
        let outcome = folder.run(&[name, "--quiet"]);
        assert_eq!(outcome.code, code, "{}", outcome.stderr);
        assert!(
            outcome.stderr.contains(name) && outcome.stderr.contains(said),
            "{}",
            outcome.stderr
        );
    }
}

#[test]
fn what_is_ambiguous_is_an_error_that_names_its_option() {
    let folder = Folder::new();
    let put = |name: &str, text: &str| fs::write(folder.path(name), text).unwrap();
    for (text, args, said) in [
        (
            "t_us,t_s,flow_ml_per_s,paw_cmH2O\n0,0,1,5\n",
            &[][..],
            "both give the time; say which: --columns time=",
        ),
        (
            "time,flow,pressure\n0,1,5\n",
            &[],
            "column \"flow\" has no unit; say --columns flow=flow:UNIT",
        ),
        (
            "a,b,c\n0,1,5\n",
            &[],
            "no column is the time, the flow, the pressure; say which by name or number: --columns time=NAME:UNIT,flow=",
        ),
        ("time,flow_ml_per_s,paw_hpa\n2024-03-31T00:00:00,1,5\n", &[], "has no zone; say --zone"),
        ("0;1,5\t2\n", &["--columns", "time=1:s,flow=2:mL/s,pressure=3:Pa"], "no column 3"),
        (
            "1|2;3|4;5|6;7\n",
            &["--columns", "time=1:s,flow=2:mL/s,pressure=3:Pa"],
            "say --delimiter",
        ),
        (HEADER, &["--columns", "flow=Fluss:L/min"], "no column is called \"Fluss\""),
        (HEADER, &["--columns", "flow=flow_ml_per_s:gal"], "no unit of flow: mL/s, L/s, L/min"),
        (HEADER, &["--columns", "volume=x"], "a column is time, flow, pressure or date"),
        (HEADER, &["--columns", "flow=1:mL/s,flow=2:mL/s"], "flow is named twice"),
        (HEADER, &["--columns", "flow=paw_cmH2O:mL/s"], "the same column"),
        (HEADER, &["--zone", "Atlantis"], "zone \"Atlantis\" is not known"),
        (HEADER, &["--delimiter", "dot"], "delimiter \"dot\" is none of comma, semicolon"),
        (HEADER, &["--decimal", "dot"], "decimal \"dot\" is none of point, comma"),
        (HEADER, &["--rate-hz", "0"], "rate_hz must be 1 to 100000"),
    ] {
        put("x.csv", text);
        let outcome = folder.run(&[&["x.csv"], args].concat());
        assert_eq!(outcome.code, 2, "{text} {args:?}");
        assert!(outcome.stderr.contains(said), "{text} {args:?}: {}", outcome.stderr);
    }
    // Two marks of decimals in one recording: the second is bad, and the option is named.
    put("x.csv", "t_us;flow_ml_per_s;paw_cmH2O\n0;1,5;5\n10000;1.5;5\n");
    let outcome = folder.run(&["x.csv", "--quiet"]);
    assert!(outcome.stderr.contains("x.csv:3: \"1.5\" is not a number where decimals are written with a comma; say --decimal point"), "{}", outcome.stderr);
}

/// Found by fresh eyes: each of these gave an empty or a wrong table, or no end.
#[test]
fn what_makes_a_table_wrong_is_said() {
    let folder = Folder::new();
    let put = |name: &str, text: String| fs::write(folder.path(name), text).unwrap();
    // 1,026 mL/min are a thousand and some, not one.
    let grouped = |x: f64| {
        let whole = (x * 40.0).round() as i64;
        if whole.abs() < 1_000 {
            whole.to_string()
        } else {
            format!("{},{:03}", whole / 1_000, whole.abs() % 1_000)
        }
    };
    put(
        "grouped.csv",
        text("t_ms;Flow (mL/min);paw_cmH2O", |us, flow, pressure| {
            format!("{};{};{}", us / 1_000, grouped(flow), pressure.round())
        }),
    );
    let outcome = folder.run(&["grouped.csv", "--breaths", "b.csv"]);
    assert!(
        outcome.code == 2 && outcome.stderr.contains("between thousands"),
        "{}",
        outcome.stderr
    );
    assert!(!folder.names().contains(&"b.csv".into()));
    // Whole numbers in one column and three decimals in another are no thousands.
    put(
        "whole.csv",
        text("t_us,flow_ml_per_s,paw_cmH2O", |us, flow, pressure| {
            format!("{us},{},{pressure:.3}", flow.round())
        }),
    );
    let outcome = folder.run(&["whole.csv", "--quiet"]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    // Nor is a number that stands for none.
    put(
        "none.csv",
        text("t_us,flow_ml_per_s,paw_cmH2O", |us, flow, pressure| {
            let flow = if us % 50_000 == 0 { "-999".into() } else { format!("{:.3}", flow + 40.0) };
            format!("{us},{flow},{pressure:.3}")
        }),
    );
    assert_eq!(folder.run(&["none.csv", "--quiet"]).code, 0);
    // Times rounded to whole seconds.
    put(
        "rounded.csv",
        text("t_s,flow_ml_per_s,paw_cmH2O", |us, flow, pressure| {
            format!("{},{flow},{pressure}", us / 1_000_000)
        }),
    );
    let said = folder.run(&["rounded.csv", "--quiet"]).stderr;
    assert!(said.contains("990 of 1000 times are that of the row before"), "{said}");
    // Words in place of numbers are counted to the last.
    put(
        "words.csv",
        text("t_us,flow_ml_per_s,paw_cmH2O", |us, flow, pressure| {
            if us % 20_000 == 0 {
                format!("{us},{flow},{pressure}")
            } else {
                format!("{us},x,{pressure}")
            }
        }),
    );
    let said = folder.run(&["words.csv", "--quiet"]).stderr;
    assert!(said.contains("words.csv: 500 of 1000 could not be read"), "{said}");
    // Microseconds taken for seconds: a day between any two samples, and an end all the same.
    put("units.csv", folder.read("in.csv").replace("t_us", "t_s"));
    assert_eq!(folder.run(&["units.csv", "--quiet"]).code, 0);
    // A recording is not written over.
    let outcome = folder.run(&["--save-demo", "in.csv"]);
    assert!(outcome.code == 2 && outcome.stderr.contains("is there already"), "{}", outcome.stderr);
}
