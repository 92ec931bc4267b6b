//! Odd lines, odd clocks and odd signals, and what the report says of them.

mod common;

use common::cli::replay;
use common::recording::{
    Folder, HEADER, flags_of, flags_one_breath, refused, spoilt, wave, with_file,
};
use std::fmt::Write as _;
use std::fs;

#[test]
fn a_stray_quote_spoils_its_own_line_only() {
    let long = format!("5500000,\"{}", "x".repeat(200));
    let outcome = flags_one_breath(&spoilt(&long), "gap");
    assert!(outcome.stderr.contains("in.csv:552: a quote is not closed"), "{}", outcome.stderr);
    let outcome = flags_one_breath(&spoilt(&format!("5500000,\"{}\",5", "x".repeat(200))), "gap");
    assert!(outcome.stderr.contains(&format!("\"{}…\"", "x".repeat(40))), "{}", outcome.stderr);
    let quoted = spoilt("\"5500000\", \"-22.4\" ,5.01").replacen("t_us", "\u{feff}\"t_us\"", 1);
    let (outcome, breaths, _) = with_file(&quoted.replace(" \"-22.4\" ", "\"-22.4\""), &[]);
    assert!(outcome.stderr.is_empty() && flags_of(&breaths[6]).is_empty(), "{}", outcome.stderr);
}

#[test]
fn a_line_without_end_is_bad_and_takes_no_memory() {
    let outcome = flags_one_breath(&spoilt(&"5".repeat(300_000)), "gap");
    assert!(outcome.stderr.contains("in.csv:552: the line is longer"), "{}", outcome.stderr);
    refused(&"\0".repeat(300_000), "in.csv:1: the line is longer");
    if cfg!(unix) {
        assert_eq!(replay(&["/dev/zero"]).code, 2);
    }
}

#[test]
fn a_line_with_another_number_of_cells_is_bad() {
    let outcome = flags_one_breath(&spoilt("5500000,9,-22.4,5"), "gap");
    assert!(outcome.stderr.contains("552: 4 cells where the header has 3"), "{}", outcome.stderr);
    assert!(!outcome.stderr.contains("comma"), "{}", outcome.stderr);
    let commas = format!("{HEADER}{}", wave(0, 2).replace('.', ","));
    refused(&commas, "decimals written with a comma");
    // An empty last column that the header has too is none too many.
    let trailing = format!("{HEADER}{}", wave(0, 10)).replace('\n', ",\r\n\r\n");
    let (outcome, breaths, _) = with_file(&trailing, &[]);
    assert!(outcome.stderr.is_empty() && breaths.len() == 11, "{}", outcome.stderr);
    // Lines that end as on an old Macintosh.
    let (outcome, breaths, _) = with_file(&trailing.replace("\r\n", "\r"), &[]);
    assert!(outcome.stderr.is_empty() && breaths.len() == 11, "{}", outcome.stderr);
}

#[test]
fn a_letter_cut_by_a_comma_moves_no_column() {
    // Both bytes of an é, one in each of two cells: text together, and neither alone. So these are two names
    // in Latin-1, and flow and pressure stand in the fourth and the fifth column.
    let folder = Folder::new();
    let mut text = b"t_us,\xc3,\xa9,flow_ml_per_s,paw_cmH2O\n".to_vec();
    for line in wave(0, 10).lines() {
        let (us, rest) = line.split_once(',').unwrap();
        text.extend(format!("{us},1,2,{rest}\n").bytes());
    }
    fs::write(folder.path("cut.csv"), text).unwrap();
    let outcome = folder.run(&["cut.csv", "--breaths", "b.csv"]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    assert!(outcome.stderr.contains("names in Latin-1"), "{}", outcome.stderr);
    folder.run(&["in.csv", "--breaths", "plain.csv"]);
    assert_eq!(folder.read("b.csv"), folder.read("plain.csv"));
}

/// Where samples are counted, one that cannot be read takes its time all the same.
#[test]
fn a_line_that_is_lost_is_counted() {
    let folder = Folder::new();
    let untimed = |line: &str| line.split_once(',').unwrap().1.to_owned();
    let lines: Vec<_> = wave(0, 10).lines().map(untimed).collect();
    for odd in ["x,5", "\"1,5", &"5".repeat(70_000)] {
        let mut lines = lines.clone();
        lines[550] = odd.into();
        let text = format!("flow_ml_per_s,paw_cmH2O\n{}\n", lines.join("\n"));
        fs::write(folder.path("x.csv"), text).unwrap();
        let outcome = folder.run(&["x.csv", "--rate-hz", "100", "--quiet", "--breaths", "b.csv"]);
        assert_eq!(outcome.code, 0, "{}", outcome.stderr);
        let rows = folder.read("b.csv");
        // The last breath ends with the sample at 9.99 s.
        let last = rows.lines().last().unwrap();
        assert_eq!(last.split(',').nth(2), Some("9990000"), "{last}");
    }
}

/// The wave of ten breaths with its times changed, as a file.
fn timed(time: impl Fn(i64) -> i64) -> String {
    let mut text = HEADER.to_owned();
    for line in wave(0, 10).lines() {
        let (us, rest) = line.split_once(',').unwrap();
        writeln!(text, "{},{rest}", time(us.parse().unwrap())).unwrap();
    }
    text
}

/// Every point that the chart draws stands between its left and its right edge.
fn stays_inside(chart: &str) {
    let points = chart.split("points=\"").skip(1).map(|t| t.split('"').next().unwrap());
    let lines = points.flat_map(|p| p.split_whitespace().map(|xy| xy.split(',').next().unwrap()));
    let dots = chart.split("cx=\"").skip(1).map(|t| t.split('"').next().unwrap());
    for x in lines.chain(dots).map(|x| x.parse::<f64>().unwrap()) {
        assert!((60.0..=1_390.0).contains(&x), "{x}");
    }
}

#[test]
fn a_counter_that_turns_over_goes_on() {
    let text = timed(|us| (us + (1 << 32) - 5_005_000) % (1 << 32));
    let folder = Folder::new();
    fs::write(folder.path("wrap.csv"), &text).unwrap();
    let outcome = folder.run(&["wrap.csv", "--strict", "--breaths", "b.csv", "--chart", "c.svg"]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    assert!(outcome.stdout.contains("1000 samples over 10 s; 10 breaths: "), "{}", outcome.stdout);
    let flagged =
        folder.read("b.csv").lines().skip(1).filter(|row| !flags_of(row).is_empty()).count();
    assert_eq!(flagged, 2, "the first and the last alone");
    stays_inside(&folder.read("c.svg"));
}

#[test]
fn a_clock_that_is_set_back_does_not_shorten_the_recording() {
    let folder = Folder::new();
    let text = timed(|us| if us < 5_000_000 { us + 90_000_000 } else { us });
    fs::write(folder.path("reset.csv"), text).unwrap();
    let outcome = folder.run(&["reset.csv", "--chart", "c.svg"]);
    assert!(outcome.stdout.contains("1000 samples over 10 s"), "{}", outcome.stdout);
    stays_inside(&folder.read("c.svg"));
}

#[test]
fn a_stray_time_in_the_far_future_does_not_spoil_the_chart() {
    let folder = Folder::new();
    fs::write(folder.path("far.csv"), spoilt("900000000000000,0,5")).unwrap();
    let outcome = folder.run(&["far.csv", "--breaths", "b.csv", "--chart", "c.svg"]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    // The jump ahead counts for the cut limit of 1 s.
    assert!(outcome.stdout.contains("1000 samples over 11 s"), "{}", outcome.stdout);
    stays_inside(&folder.read("c.svg"));
}

#[test]
fn strict_stops_at_a_reading_that_is_not_taken() {
    for (line, reason) in [
        ("5490000,0,5", "in.csv:552: time not later"),
        ("5500000,6000,5", "in.csv:552: flow out of range"),
        ("5500000,0,-300", "in.csv:552: pressure out of range"),
    ] {
        let (outcome, breaths, events) = with_file(&spoilt(line), &["--strict"]);
        assert_eq!(outcome.code, 2, "{line}");
        assert!(outcome.stderr.contains(reason), "{}", outcome.stderr);
        assert!(breaths.is_empty() && events.is_empty());
    }
}

#[test]
fn times_that_begin_before_zero_are_moved() {
    let (outcome, breaths, _) = with_file(&timed(|us| us - 3_000_000), &["--strict"]);
    assert_eq!((outcome.code, breaths.len()), (0, 11), "{}", outcome.stderr);
    assert_eq!(outcome.stderr.matches("times begin at -3 s").count(), 1, "{}", outcome.stderr);
    assert!(breaths[1].starts_with("0,"), "{}", breaths[1]);
    let seconds = timed(|us| us - 3_000_000).replace("t_us", "t_s").replace("0000,", "e-2,");
    let (outcome, breaths, _) = with_file(&seconds, &[]);
    assert_eq!((outcome.code, breaths.len()), (0, 11), "{}", outcome.stderr);
}

#[test]
fn a_delay_without_its_limit_is_refused() {
    let folder = Folder::new();
    fs::write(folder.path("s.toml"), "limit_delay_ms = 20\n").unwrap();
    let outcome = folder.run(&["in.csv", "--settings", "s.toml"]);
    assert_eq!(outcome.code, 2);
    assert!(outcome.stderr.contains("limit_delay_ms"), "{}", outcome.stderr);
}

/// The wave with its flow and pressure changed.
fn changed(seconds: u64, change: impl Fn(f64, f64) -> (f64, f64)) -> String {
    let mut text = HEADER.to_owned();
    for line in wave(0, seconds).lines() {
        let cells: Vec<f64> = line.split(',').map(|c| c.parse().unwrap()).collect();
        let (flow, pressure) = change(cells[1], cells[2]);
        writeln!(text, "{},{flow:.3},{pressure:.3}", cells[0]).unwrap();
    }
    text
}

#[test]
fn a_flow_sensor_the_wrong_way_round_is_suspected() {
    let asked = |text: &str| {
        let (outcome, _, _) = with_file(text, &[]);
        assert_eq!(outcome.code, 0);
        let said = outcome.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
        let first =
            said.split("- ").nth(1).is_some_and(|line| line.starts_with("NUMBERS THAT CANNOT BE"));
        assert_eq!(first, said.contains("the flow sensor may be the wrong way round"), "{said}");
        first
    };
    assert!(asked(&changed(60, |flow, pressure| (-flow, pressure))));
    assert!(!asked(&changed(60, |flow, pressure| (flow, pressure))));
    // Own breaths under a steady pressure, a little higher on the way out.
    assert!(!asked(&changed(60, |flow, _| (flow, 5.0 - 0.02 * flow))));
}

#[test]
fn few_own_breaths_advise_no_level() {
    // Own breaths of 9 mL; a kilogram has a dead space of 3.3 mL.
    let own = |seconds| changed(seconds, |flow, _| (flow, 5.0 - 0.02 * flow));
    let report = |seconds, extra: &[&str]| with_file(&own(seconds), extra).0.stdout;
    let few = report(20, &["--weight-g", "1000"]);
    assert!(few.contains("fewer than thirty own breaths"), "{few}");
    let enough = report(40, &["--weight-g", "1000"]);
    assert!(enough.contains("is reached by") && enough.contains("3.3 mL"), "{enough}");
    let unweighed = report(40, &[]);
    assert!(unweighed.contains("without a weight"), "{unweighed}");
}

#[test]
fn a_flow_that_never_turns_outward_is_called_that() {
    let (outcome, _, _) = with_file(&changed(20, |flow, p| (flow.max(0.0) * 2.0 + 3.0, p)), &[]);
    assert!(
        outcome.stdout.replace('\n', " ").contains("nothing had come back"),
        "{}",
        outcome.stdout
    );
    for wrong in ["inf ", "NaN", "-0 "] {
        assert!(!outcome.stdout.contains(wrong), "{}", outcome.stdout);
    }
}

#[test]
fn nothing_is_printed_as_minus_zero() {
    // Two in a thousand more come back than went in, and the baseline lies around zero.
    let text = changed(30, |flow, p| {
        (if flow < -1.0 { flow * 1.005 } else { flow }, if p > 10.0 { p } else { p - 5.031 })
    });
    let (outcome, breaths, _) = with_file(&text, &["--weight-g", "980"]);
    assert!(breaths.iter().all(|row| row.split(',').all(|c| c != "-0.00")));
    assert!(outcome.stdout.contains("median 0 %"), "{}", outcome.stdout);
    for zero in ["-0 ", "-0.0 ", "(-0.0"] {
        assert!(!outcome.stdout.contains(zero), "{}", outcome.stdout);
    }
}
