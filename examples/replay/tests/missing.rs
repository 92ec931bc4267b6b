//! Values that stand for one that is missing are gaps, and never a flow or a pressure.

mod common;

use common::recording::{Folder, HEADER};
use common::written::text;
use std::fs;

/// The recording with something else in the place of the flow, or the pressure, from 5.50 to 5.59 s.
fn spoilt(header: &str, flow_factor: f64, what: (&str, bool)) -> String {
    let (word, in_flow) = what;
    text(header, |us, flow, pressure| {
        let (flow, pressure) = (format!("{:.3}", flow * flow_factor), format!("{pressure:.3}"));
        match (5_500_000..5_600_000).contains(&us) {
            true if in_flow => format!("{us},{word},{pressure}"),
            true => format!("{us},{flow},{word}"),
            false => format!("{us},{flow},{pressure}"),
        }
    })
}

/// The rows of its breaths, and what is said of it.
fn breaths(folder: &Folder, text: &str, args: &[&str]) -> (Vec<String>, String) {
    fs::write(folder.path("m.csv"), text).unwrap();
    let outcome = folder.run(&[&["m.csv", "--quiet", "--breaths", "b.csv"], args].concat());
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    (folder.read("b.csv").lines().skip(1).map(Into::into).collect(), outcome.stderr)
}

#[test]
fn what_stands_for_none_is_a_gap_wherever_it_stands() {
    let folder = Folder::new();
    let head = HEADER.trim_end();
    // The same ten lines left out altogether, but for the flag that tells of lost lines.
    let expected = breaths(&folder, &spoilt(head, 1.0, ("x", true)), &[]).0;
    assert!(expected[5].contains(",gap,"), "{}", expected[5]);
    for word in
        ["-999", "-999.0", "-9999", "9999", "-9999.00", "NA", "N/A", "NaN", "null", "-", "--", ""]
    {
        for in_flow in [true, false] {
            let (rows, said) = breaths(&folder, &spoilt(head, 1.0, (word, in_flow)), &[]);
            assert_eq!(rows, expected, "{word}: {said}");
            assert!(
                said.contains("10 of 1000 could not be read, 10 for want of a value"),
                "{word}: {said}"
            );
        }
        let litres = spoilt("t_us,flow_l_per_min,paw_cmH2O", 0.06, (word, true));
        assert!(breaths(&folder, &litres, &[]).0[5].contains(",gap,"), "{word}");
    }
    // A guess names itself and the option; a word is none.
    let said = breaths(&folder, &spoilt(head, 1.0, ("-999", true)), &[]).1;
    assert!(
        said.contains(
            "m.csv:552: flow of -999 is taken for none; --missing NA says that it is a number"
        ),
        "{said}"
    );
    let said = breaths(&folder, &spoilt(head, 1.0, ("NA", false)), &[]).1;
    assert!(said.contains("m.csv:552: pressure is missing: \"NA\"; taken as a gap"), "{said}");
}

#[test]
fn the_caller_says_what_stands_for_none() {
    let folder = Folder::new();
    let head = HEADER.trim_end();
    let gap = |word: &str, args: &[&str]| {
        let (rows, said) = breaths(&folder, &spoilt(head, 1.0, (word, true)), args);
        assert!(!said.contains("--missing"), "{said}");
        rows[5].contains(",gap,")
    };
    assert!(gap("-77", &["--missing", "-77,lost"]) && gap("lost", &["--missing", "-77,lost"]));
    assert!(!gap("-77", &[]));
    // Told, -999 is what the caller says, and words go on to stand for none.
    assert!(gap("-999", &["--missing", "-999"]) && gap("NA", &["--missing", "-999"]));
    assert!(!gap("-999", &["--missing", "NA"]));
    fs::write(folder.path("s.toml"), "[recording]\nmissing = [-77, \"lost\"]\n").unwrap();
    assert!(gap("-77.0", &["--settings", "s.toml"]) && gap("lost", &["--settings", "s.toml"]));
}

/// -999 mL/min are 16.65 mL/s, as any infant breathes.
#[test]
fn a_number_that_may_be_a_reading_is_one_unless_it_comes_too_often() {
    let folder = Folder::new();
    let table = |every: i64| {
        text("t_us,Flow (mL/min),paw_cmH2O", |us, flow, pressure| {
            let flow = if us / 10_000 % every == 0 { -999.0 } else { (flow * 60.0).round() };
            format!("{us},{flow},{pressure}")
        })
    };
    let (_, said) = breaths(&folder, &table(500), &[]);
    assert!(!said.contains("missing"), "{said}");
    fs::write(folder.path("m.csv"), table(20)).unwrap();
    let outcome = folder.run(&["m.csv", "--breaths", "no.csv"]);
    assert!(
        outcome.code == 2
            && outcome.stderr.contains("50 values are -999, -9999 or 9999: do they stand for none? say --missing -999, or --missing NA where they are numbers"),
        "{}",
        outcome.stderr
    );
    assert!(!folder.names().contains(&"no.csv".into()));
    breaths(&folder, &table(20), &["--missing", "NA"]);
    let (_, said) = breaths(&folder, &table(20), &["--missing", "-999"]);
    assert!(said.contains("50 of 1000 could not be read, 50 for want of a value"), "{said}");
}
