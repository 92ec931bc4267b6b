//! Whatever comes in: a clear error or a flag, and nothing before it lost.

mod common;

use common::cli::{replay, replay_in, replay_stdin};
use common::recording::{HEADER, flags_of, flags_one_breath, refused, spoilt, wave, with_file};
use std::fmt::Write as _;
use std::fs;
use tempfile::TempDir;
use tidevane::alarm::Condition;
use tidevane::monitor::{EventKind, Monitor, Settings};
use tidevane::quantity::{Flow, Instant, Pressure};
use tidevane::signal::{Flags, Reading, Refusal};

#[test]
fn an_empty_file_is_refused() {
    refused("", "empty");
}

#[test]
fn a_header_alone_is_refused() {
    refused(HEADER, "no usable sample");
}

#[test]
fn a_wrong_header_is_refused_and_quoted() {
    refused(
        "when,flow_ml_per_s,paw_hpa\n0,1,5\n",
        "The columns are \"when\", \"flow_ml_per_s\", \"paw_hpa\"",
    );
    refused("t_us,t_s,flow_ml_per_s,paw_cmH2O\n0,0,1,5\n", "\"t_us\" and \"t_s\" both");
}

#[test]
fn names_that_are_not_known_are_listed_with_the_flag() {
    // The line below holds more commas than the header has cells.
    let said = "in.csv:1: no column is the time, the flow, the pressure; say which by name or number: --columns \
                time=NAME:UNIT,flow=NAME:UNIT,pressure=NAME:UNIT, or --rate-hz N where none is the time. The columns are \
                \"Zeit\", \"Fluss\", \"Druck\"";
    refused("Zeit;Fluss;Druck\n0,00;0,0210;4,9700\n0,01;0,0220;4,9800\n", said);
}

#[test]
fn comments_however_long_are_above_a_header() {
    let comments = format!("# {}\n", "x".repeat(98)).repeat(700);
    let (outcome, breaths, _) = with_file(&format!("{comments}{HEADER}{}", wave(0, 10)), &[]);
    assert_eq!((outcome.code, breaths.len()), (0, 11), "{}", outcome.stderr);
    refused(&comments, "holds comments and no table");
}

#[test]
fn another_header_in_the_middle_is_refused_with_its_line() {
    let with = |header: &str| format!("{HEADER}{}{header}\n{}", wave(0, 5), wave(5, 5));
    for header in [
        "t_us,paw_cmH2O,flow_ml_per_s",
        "t_us,flow_l_per_min,paw_cmH2O",
        "t_ms,flow_ml_per_s,paw_cmH2O",
        "t_us,flow_ml_per_s,paw_cmH2O,note",
        "t_us,flow,pressure",
    ] {
        refused(
            &with(header),
            &format!(
                "line 502: here stands another header, with other columns or units than the first: \"{header}\""
            ),
        );
    }
    // The same once more is a gap.
    let (outcome, breaths, _) = with_file(&with(HEADER.trim()), &[]);
    assert_eq!((outcome.code, breaths.len()), (0, 11), "{}", outcome.stderr);
}

#[test]
fn a_rate_that_the_times_contradict_is_refused() {
    let text = format!("{HEADER}{}", wave(0, 10));
    let (outcome, breaths, _) = with_file(&text, &["--rate-hz", "50"]);
    assert_eq!((outcome.code, breaths.len()), (2, 0), "{}", outcome.stderr);
    let said = "in.csv: --rate-hz says 50.0 samples a second, and the column of the time 100.0";
    assert!(outcome.stderr.contains(said), "{}", outcome.stderr);
    assert_eq!(with_file(&text, &["--rate-hz", "100"]).0.code, 0);
    // Dates of whole seconds, over a minute.
    let dated = wave(0, 60).lines().zip(0..).fold(String::new(), |text, (line, n)| {
        let (_, rest) = line.split_once(',').unwrap();
        text + &format!("2026-03-01T08:{:02}:{:02}Z,{rest}\n", n / 6_000, n / 100 % 60)
    });
    let text = format!("time,flow_ml_per_s,paw_cmH2O\n{dated}");
    let outcome = with_file(&text, &["--rate-hz", "50"]).0;
    assert!(
        outcome.code == 2 && outcome.stderr.contains("the column of the time 101.7"),
        "{}",
        outcome.stderr
    );
    assert_eq!(with_file(&text, &["--rate-hz", "100"]).0.code, 0);
}

#[test]
fn rows_that_stand_twice_are_left_out_and_counted() {
    let twice: String = wave(0, 10).lines().map(|line| format!("{line}\n{line}\n")).collect();
    let (outcome, breaths, _) = with_file(&format!("{HEADER}{twice}"), &[]);
    let (_, once, _) = with_file(&format!("{HEADER}{}", wave(0, 10)), &[]);
    assert_eq!(breaths, once);
    let said = "1000 rows are the same as the one before, time and all, and are left out";
    assert!(
        outcome.stderr.contains(said) && !outcome.stderr.contains("--rate-hz"),
        "{}",
        outcome.stderr
    );
    assert!(
        outcome.stdout.contains("1000 rows repeated the one before, left out."),
        "{}",
        outcome.stdout
    );
    let (outcome, ..) = with_file(&format!("{HEADER}{twice}"), &["--strict"]);
    assert_eq!(outcome.code, 2, "{}", outcome.stderr);
}

#[test]
fn times_out_of_order_are_told_once_and_no_rate_is_advised() {
    let mut rows: Vec<_> = wave(0, 10).lines().map(str::to_owned).collect();
    rows.reverse();
    let (outcome, ..) = with_file(&format!("{HEADER}{}\n", rows.join("\n")), &[]);
    let told =
        outcome.stderr.matches("times lie before one that came earlier: sort the rows").count();
    assert_eq!(told, 1, "{}", outcome.stderr);
    assert!(!outcome.stderr.contains("--rate-hz"), "{}", outcome.stderr);
    // Rounded to whole seconds, each other reading differs: there a rate helps.
    let rounded: String = wave(0, 10)
        .lines()
        .map(|line| line.split_once(',').unwrap())
        .map(|(us, rest)| {
            format!("{},{rest}\n", us.parse::<u64>().unwrap() / 1_000_000 * 1_000_000)
        })
        .collect();
    let (outcome, ..) = with_file(&format!("{HEADER}{rounded}"), &[]);
    assert!(
        outcome.stderr.contains("are they rounded? --rate-hz N, with the true rate"),
        "{}",
        outcome.stderr
    );
    let (outcome, breaths, _) = with_file(&format!("{HEADER}{rounded}"), &["--rate-hz", "100"]);
    assert_eq!((outcome.code, breaths.len()), (0, 11), "{}", outcome.stderr);
}

#[test]
fn marks_between_thousands_are_named() {
    let text = spoilt("5500000,\"1,234.5\",5");
    let outcome = flags_one_breath(&text, "gap");
    assert!(
        outcome.stderr.contains("\"1,234.5\" has a mark between thousands"),
        "{}",
        outcome.stderr
    );
    let text = "t_us;flow_ml_per_s;paw_cmH2O\n0;1.5;5.0\n10,000;1.5;5.0\n";
    let (outcome, ..) = with_file(text, &[]);
    assert!(
        outcome.stderr.contains("in.csv:3: \"10,000\" has a mark between thousands"),
        "{}",
        outcome.stderr
    );
}

#[test]
fn a_missing_file_is_refused() {
    let outcome = replay(&["no-such-recording.csv"]);
    assert_eq!(outcome.code, 2);
    assert!(outcome.stderr.contains("no-such-recording.csv"), "{}", outcome.stderr);
}

#[test]
fn an_edf_that_is_broken_is_told_in_words() {
    let folder = TempDir::new().unwrap();
    // A header of 256 x 3 bytes by its own word, which ends after 300; then one whose date is none.
    let head = |date: &str| {
        format!(
            "{:<8}{:<80}{:<80}{date:<8}{:<8}{:<8}{:<44}{:<8}{:<8}{:<4}",
            "0", "X X X X", "X", "08.00.00", 768, "", 1, 1, 2
        )
    };
    for (name, text, said) in [
        ("cut.edf", head("01.03.26") + &"x".repeat(44), "cut.edf: it ends inside its header"),
        (
            "date.edf",
            head("99.99.99") + &"x".repeat(600),
            "date.edf: its header does not say what it must: start date (bytes 168 to 175)",
        ),
    ] {
        fs::write(folder.path().join(name), text).unwrap();
        let outcome = replay_in(folder.path(), &[name]);
        assert!(outcome.code == 2 && outcome.stderr.contains(said), "{}", outcome.stderr);
    }
}

#[test]
fn a_file_of_nothing_but_bad_lines_is_refused() {
    refused(&format!("{HEADER}a,b,c\n1,2\n"), "no usable sample");
}

#[test]
fn text_in_a_number_is_a_gap_with_its_line() {
    let outcome = flags_one_breath(&spoilt("5500000,many,5"), "gap");
    assert!(outcome.stderr.contains("in.csv:552: \"many\" is not a number"), "{}", outcome.stderr);
    assert!(
        outcome.stdout.contains("One line could not be read, taken as gaps."),
        "{}",
        outcome.stdout
    );
}

#[test]
fn not_a_number_is_a_gap_with_its_line() {
    for word in ["NaN", "nan", ""] {
        let outcome = flags_one_breath(&spoilt(&format!("5500000,{word},5")), "gap");
        assert!(outcome.stderr.contains("in.csv:552"), "{}", outcome.stderr);
    }
    let outcome = flags_one_breath(&spoilt("5500000,inf,5"), "gap");
    assert!(outcome.stderr.contains("out of range"), "{}", outcome.stderr);
}

#[test]
fn strict_stops_at_the_first_bad_line_with_nothing_written() {
    let (outcome, breaths, events) = with_file(&spoilt("5500000,many,5"), &["--strict"]);
    assert_eq!(outcome.code, 2);
    assert!(outcome.stderr.contains("in.csv:552"), "{}", outcome.stderr);
    assert!(breaths.is_empty() && events.is_empty());
}

#[test]
fn time_going_backwards_is_refused_and_flagged() {
    flags_one_breath(&spoilt("5400000,0,5"), "disorder");
}

#[test]
fn one_sample_is_no_breath() {
    let (outcome, breaths, events) = with_file(&format!("{HEADER}0,1.5,5\n"), &[]);
    assert_eq!((outcome.code, breaths.len(), events.len()), (0, 1, 1), "{}", outcome.stderr);
    assert!(
        outcome.stdout.contains("one sample over 0 s; 0 breaths: 0 inflations and 0 own"),
        "{}",
        outcome.stdout
    );
}

#[test]
fn all_zeros_are_no_breath_and_said_to_be_stuck() {
    let mut text = HEADER.to_owned();
    for i in 0..1_000 {
        writeln!(text, "{},0,0", i * 10_000).unwrap();
    }
    let (outcome, breaths, events) = with_file(&text, &[]);
    assert_eq!((outcome.code, breaths.len()), (0, 1));
    assert!(events.iter().any(|e| e.starts_with("500000,stuck")), "{events:?}");
}

#[test]
fn a_kilohertz_of_the_largest_number_is_refused() {
    let mut monitor = Monitor::new(Settings::default());
    let wild = Reading { flow: Flow::MAX, pressure: Pressure::MAX };
    let mut events = Vec::new();
    for ms in 0..1_000_u64 {
        let report = monitor.push_at(Instant::from_us(ms * 1_000), wild);
        assert!(report.breath.is_none());
        events.extend(report.events.iter().copied());
    }
    // Said once, not a thousand times; and before any interval was heard 200 count as 2 s of no input,
    // looked at ten times a second from the first on.
    assert_eq!(events.len(), 2);
    assert_eq!(events[0].what, EventKind::Refused(Refusal::FlowOutOfRange));
    assert!(matches!(events[1].what, EventKind::Alarm(alarm)
        if alarm.condition == Condition::SensorFault && events[1].at == Instant::from_us(2_010_000)));
    assert!(monitor.finish().breath.is_none());
    // As text: 2147483647 is beyond any flow, so every line is bad.
    let mut text = HEADER.to_owned();
    for ms in 0..1_000 {
        writeln!(text, "{},2147483647,2147483647", ms * 1_000).unwrap();
    }
    refused(&text, "no usable sample");
}

#[test]
fn two_hours_of_silence_cut_one_breath_and_lose_none() {
    let text = format!("{HEADER}{}{}", wave(0, 5), wave(7_205, 5));
    let (outcome, breaths, events) = with_file(&text, &[]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    assert_eq!(breaths.len(), 1 + 10, "{breaths:#?}");
    let flags: Vec<_> = breaths[1..].iter().map(|row| flags_of(row)).collect();
    let expected = ["begun-before", "", "", "", "gap;cut", "begun-before", "", "", "", "cut"];
    assert_eq!(flags, expected);
    assert!(events.iter().any(|e| e.contains("gap") && e.contains("7200.010 s")), "{events:?}");
}

#[test]
fn a_pipe_that_closes_early_keeps_what_came() {
    let text = format!("{HEADER}{}", wave(0, 10));
    // Cut inside the line of 7.2 s: after seven breaths, in the eighth.
    let at = text.find("7200000,").unwrap() + "7200000,3".len();
    let folder = TempDir::new().unwrap();
    let breaths = folder.path().join("breaths.csv");
    let outcome = replay_stdin(&["-", "--breaths", breaths.to_str().unwrap()], &text[..at]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    assert!(outcome.stderr.contains("only 2 cells"), "{}", outcome.stderr);
    let rows = fs::read_to_string(&breaths).unwrap();
    assert_eq!(rows.lines().count(), 1 + 8, "{rows}");
}

#[test]
fn a_reader_that_leaves_is_no_error() {
    // An output that cannot be made is one.
    let outcome = replay(&["--breaths", "/no/such/folder/b.csv"]);
    assert_eq!(outcome.code, 2);
    assert!(outcome.stderr.contains("/no/such/folder/b.csv"), "{}", outcome.stderr);
}

#[test]
fn a_table_is_called_for_what_it_is() {
    let folder = TempDir::new().unwrap();
    fs::write(folder.path().join("in.csv"), HEADER.to_owned() + &wave(0, 10)).unwrap();
    let outcome = replay_in(folder.path(), &["in.csv", "--breaths", "b.txt"]);
    let said =
        "tables are written as CSV or Parquet: b.txt should end in .csv or .parquet, not .txt";
    assert!(outcome.code == 2 && outcome.stderr.contains(said), "{}", outcome.stderr);
    assert!(!folder.path().join("b.txt").exists());
}

#[test]
fn a_sensor_that_says_nothing_usable_rings() {
    // Half a minute of breaths, then half a minute of a flow beyond the range, and of no numbers.
    for dead in ["6000,5", "ERR,ERR"] {
        let good = wave(0, 30);
        let mut text = HEADER.to_owned() + &good;
        let step = 10_000_u64;
        for n in 0..3_000_u64 {
            text += &format!("{},{dead}\n", 30_000_000 + n * step);
        }
        let folder = TempDir::new().unwrap();
        let events = folder.path().join("e.csv");
        let args = ["-", "--quiet", "--events", events.to_str().unwrap()];
        assert_eq!(replay_stdin(&args, &text).code, 0);
        let told = fs::read_to_string(events).unwrap();
        assert!(told.contains("alarm-on,\"no input from the sensor"), "{dead}: {told}");
    }
}

#[test]
fn what_is_told_of_a_name_is_no_command() {
    // Red from here on, and what follows from right to left.
    let outcome = replay(&["\u{1b}[31mgone\u{202e}.csv"]);
    assert_eq!(outcome.code, 2);
    assert!(!outcome.stderr.contains(['\u{1b}', '\u{202e}']), "{}", outcome.stderr);
    assert!(outcome.stderr.contains("gone"), "{}", outcome.stderr);
}

#[test]
fn a_sensor_that_drops_out_flags_its_breaths_only() {
    let mut monitor = Monitor::new(Settings::default());
    let mut flags = Vec::new();
    for line in wave(0, 10).lines() {
        let cells: Vec<f64> = line.split(',').map(|c| c.parse().unwrap()).collect();
        let at = Instant::from_us(cells[0] as u64);
        // Silent from 5.80 to 6.05 s: the end of one breath and the beginning of the next.
        if at > Instant::from_us(5_800_000) && at < Instant::from_us(6_050_000) {
            continue;
        }
        let flow = Flow::from_milli((cells[1] * 1e3) as i32).value;
        let pressure = Pressure::from_milli((cells[2] * 1e3) as i32).value;
        flags
            .extend(monitor.push_at(at, Reading { flow, pressure }).breath.map(|b| b.breath.flags));
    }
    assert_eq!(flags.len(), 9);
    let touched: Vec<_> = (0..9).filter(|i| flags[*i].has(Flags::GAP)).collect();
    assert_eq!(touched, [5, 6]);
}
