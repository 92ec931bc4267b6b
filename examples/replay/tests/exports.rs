//! The ways in which programs write tables out: what stands above, in and below their header, and their letters.

mod common;

use common::recording::{Folder, HEADER, wave};
use common::written::{same, text};
use std::fs;

/// A file of this text, which must give the breaths of the plain recording with no option; what is said of it.
fn read_as_it_is(folder: &Folder, name: &str, text: impl AsRef<[u8]>) -> String {
    fs::write(folder.path(name), text).unwrap();
    let said = same(folder, &[name]).stderr;
    // Every line of it was read.
    assert!(!said.contains("gap"), "{said}");
    said
}

fn plain(us: i64, flow: f64, pressure: f64) -> String {
    format!("{us},{flow},{pressure}")
}

#[test]
fn what_stands_above_the_header_is_left_out_and_said() {
    let folder = Folder::new();
    let table = format!("{HEADER}{}", wave(0, 10));
    let above = "Recorder, made up\nStarted: 2024-03-31, 10:00\n\nRate 100 Hz; gain 1\n";
    let said = read_as_it_is(&folder, "above.csv", format!("{above}{table}"));
    assert!(said.contains("3 lines above the header left out"), "{said}");
    let said = read_as_it_is(&folder, "one.csv", format!("Notes\n{table}"));
    assert!(said.contains("one line above the header left out"), "{said}");
    // The line of a bad sample is still counted from the top: 4 + 1 + 551.
    let bad = table.replace("5500000,", "x,");
    fs::write(folder.path("bad.csv"), format!("{above}{bad}")).unwrap();
    let said = folder.run(&["bad.csv", "--quiet"]).stderr;
    assert!(said.contains("bad.csv:556: time \"x\" is not a number"), "{said}");
    // Counted columns: the samples begin where a line is one.
    fs::write(folder.path("counted.csv"), format!("Notes\nmore, notes\n{}", wave(0, 10))).unwrap();
    let said =
        same(&folder, &["counted.csv", "--columns", "time=1:us,flow=2:mL/s,pressure=3:cmH2O"]);
    assert!(said.stderr.contains("2 lines above the samples left out"), "{}", said.stderr);
    // A header below them that is not understood is the one that is quoted.
    fs::write(folder.path("other.csv"), format!("{above}time,flow,pressure\n0,1,5\n")).unwrap();
    let said = folder.run(&["other.csv"]).stderr;
    assert!(said.contains("other.csv:5: column \"flow\" has no unit"), "{said}");
    fs::write(folder.path("none.csv"), "Notes\n".repeat(20_000)).unwrap();
    let outcome = folder.run(&["none.csv"]);
    assert!(outcome.code == 2 && outcome.stderr.contains("none.csv:1: no column is the time"));
}

/// Between the first good line and the header of a counted recording, a bad line is a gap and not a preamble.
#[test]
fn a_bad_first_sample_is_no_preamble() {
    let folder = Folder::new();
    let columns = "time=1:us,flow=2:mL/s,pressure=3:cmH2O";
    fs::write(folder.path("a.csv"), format!("a,b,c\n0,x,5\n{}", wave(0, 10))).unwrap();
    let outcome = folder.run(&["a.csv", "--quiet", "--columns", columns]);
    assert!(outcome.stderr.contains("a.csv:2: \"x\" is not a number"), "{}", outcome.stderr);
    assert!(!outcome.stderr.contains("left out"), "{}", outcome.stderr);
}

#[test]
fn a_first_line_may_name_what_stands_between_cells() {
    let folder = Folder::new();
    let table = text("t_us;Flow (mL/s);Paw (cmH2O)", |us, flow, pressure| {
        format!("{us};{flow};{pressure}")
    });
    for first in ["sep=;", "SEP=;", "\"sep=;\""] {
        let said = read_as_it_is(&folder, "sep.csv", format!("{first}\r\n{table}"));
        assert!(said.contains("semicolon between cells") && !said.contains("left out"), "{said}");
    }
    let tabs = table.replace(';', "\t");
    read_as_it_is(&folder, "tab.csv", format!("sep=\t\n{tabs}"));
    fs::write(folder.path("odd.csv"), format!("sep=:\n{}", table.replace(';', ":"))).unwrap();
    let outcome = folder.run(&["odd.csv"]);
    assert!(
        outcome.code == 2 && outcome.stderr.contains("odd.csv:1: \":\" between cells is not read"),
        "{}",
        outcome.stderr
    );
    // What the caller says goes before what the file does.
    fs::write(folder.path("wrong.csv"), format!("sep=,\n{table}")).unwrap();
    same(&folder, &["wrong.csv", "--delimiter", "semicolon"]);
}

#[test]
fn names_and_comments_may_be_in_latin_1() {
    let folder = Folder::new();
    let latin =
        |text: &str| text.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect::<Vec<_>>();
    let table = text("Time (µs),T (°C),Flow (mL/s),Paw (cmH2O)", |us, flow, pressure| {
        format!("{us},37°,{flow},{pressure}")
    });
    let said = read_as_it_is(&folder, "latin.csv", latin(&format!("# 37 °C\n{table}")));
    assert!(said.contains("names in Latin-1") && said.contains("\"Time (µs)\" in us"), "{said}");
    let said = read_as_it_is(&folder, "utf.csv", format!("# 37 °C\n{table}"));
    assert!(!said.contains("Latin-1"), "{said}");
}

#[test]
fn utf_16_is_read() {
    let folder = Folder::new();
    let table = text("Time (µs)\tFlow (mL/s)\tPaw (cmH2O)", |us, flow, pressure| {
        format!("{us}\t{flow}\t{pressure}")
    });
    // With a byte-order mark and without.
    let units = |mark: &[u16]| mark.iter().copied().chain(table.encode_utf16()).collect::<Vec<_>>();
    for bytes in [
        units(&[0xfeff]).into_iter().flat_map(u16::to_le_bytes).collect::<Vec<_>>(),
        units(&[0xfeff]).into_iter().flat_map(u16::to_be_bytes).collect(),
        units(&[]).into_iter().flat_map(u16::to_le_bytes).collect(),
        units(&[]).into_iter().flat_map(u16::to_be_bytes).collect(),
    ] {
        let said = read_as_it_is(&folder, "wide.txt", bytes);
        assert!(said.contains("UTF-16 text"), "{said}");
    }
}

#[test]
fn a_row_of_units_stands_below_the_header() {
    let folder = Folder::new();
    // 1 mmHg = 133.322 Pa = 133.322 / 98.0665 = 1.359506 cmH2O; 1 kPa = 10.19716 cmH2O
    for (unit, cmh2o) in [
        ("kPa", 10.197_16),
        ("hPa", 1.019_716),
        ("mbar", 1.019_716),
        ("Pa", 0.010_197_16),
        ("mmHg", 1.359_506),
        ("cmH2O", 1.0),
    ] {
        let table = text(&format!("Time,Flow,Paw\n[s],[L/min],[{unit}]"), |us, flow, pressure| {
            format!("{},{},{}", us as f64 / 1e6, flow * 0.06, pressure / cmh2o)
        });
        let said = read_as_it_is(&folder, "units.csv", table);
        let found = format!(
            "a row of units below the header; time = \"Time\" in s; flow = \"Flow\" in L/min; pressure = \"Paw\" in {unit}"
        );
        assert!(said.contains(&found), "{said}");
        // The same by the name alone, however it is written there.
        for name in [
            format!("Paw {unit}"),
            format!("paw_{unit}"),
            format!("Paw / {unit}"),
            format!("Pressure ({unit})"),
        ] {
            let table = text(&format!("t_us,Flow [L/min],{name}"), |us, flow, pressure| {
                format!("{us},{},{}", flow * 0.06, pressure / cmh2o)
            });
            read_as_it_is(&folder, "named.csv", table);
        }
    }
    // Names may have their units already, and dates have none.
    let said = read_as_it_is(
        &folder,
        "both.csv",
        text("t_us,flow_ml_per_s,paw_cmH2O,x\nus,mL/s,,-", |us, flow, pressure| {
            plain(us, flow, pressure) + ",0"
        }),
    );
    assert!(said.contains("a row of units below the header"), "{said}");
    let tabs = text("Time\tFlow\tPaw\n\tmL/s\tcmH2O", |us, flow, pressure| {
        format!("2024-03-31T00:00:{:09.6}Z\t{flow}\t{pressure}", us as f64 / 1e6)
    });
    read_as_it_is(&folder, "dates.txt", tabs);
    // Name and row that say two things are an error.
    fs::write(folder.path("two.csv"), "t_us,flow_ml_per_s,paw_hPa\nus,mL/s,kPa\n0,1,5\n").unwrap();
    let outcome = folder.run(&["two.csv"]);
    assert!(
        outcome.code == 2
            && outcome.stderr.contains(
                "two.csv:1: column \"paw_hPa\" is in hPa by its name and in kPa by its unit; say --columns pressure=paw_hPa:UNIT"
            ),
        "{}",
        outcome.stderr
    );
    fs::write(
        folder.path("two.csv"),
        text("t_us,flow_ml_per_s,paw_hPa\nus,mL/s,kPa", |us, flow, pressure| {
            plain(us, flow, pressure * 98.066_5)
        }),
    )
    .unwrap();
    same(&folder, &["two.csv", "--columns", "pressure=paw_hPa:Pa"]);
}

#[test]
fn a_header_that_is_a_comment_is_one_where_no_other_is() {
    let folder = Folder::new();
    let said = read_as_it_is(&folder, "saved.txt", format!("# made up\n# {HEADER}{}", wave(0, 10)));
    assert!(said.contains("the header is a comment"), "{said}");
    // A comment that looks like one above a header is none.
    let said = read_as_it_is(
        &folder,
        "both.csv",
        format!("# t_us,paw_cmH2O,flow_ml_per_s\n{HEADER}{}", wave(0, 10)),
    );
    assert!(!said.contains("the header is a comment"), "{said}");
}
