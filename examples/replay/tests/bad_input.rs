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
fn settings_that_do_not_fit_are_refused_by_name() {
    for (args, name) in [
        (["--weight-g", "12"], "weight_g"),
        (["--threshold-lpm", "-0.2"], "threshold_lpm must be above zero"),
        (["--threshold-lpm", "nan"], "threshold_lpm"),
        (["--set-rate", "400"], "set_rate is above the largest allowed value; it must be 0 to 150"),
        (["--weight-g", "0.98"], "the weight is in grams: 0.98 kg are 980 g"),
        (["--weight-g", "x"], "a whole number of grams, 200 to 200000"),
    ] {
        let outcome = replay(&args);
        assert_eq!(outcome.code, 2, "{args:?}");
        assert!(outcome.stderr.contains(name), "{args:?}: {}", outcome.stderr);
    }
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("s.toml");
    for (text, reason) in [
        ("weight = 3\n", "unknown field `weight`"),
        ("target_ml = 5\n", "target_ml needs target_ceiling_cmH2O"),
        ("target_step_cmH2O = 3\n", "without target_ml"),
        ("target_ml = 5\ntarget_ceiling_cmH2O = 90\n", "target_ceiling_cmH2O is above"),
        ("grid_step_lpm = 0.1\n", "go together"),
        ("[alarms]\nrate_low = 80\nrate_high = 30\n", "lower end above its upper end"),
        ("[alarms]\napnoea_s = 5\n", "apnoea_s is below"),
        ("[alarms]\napnoea_s = -15\n", "apnoea_s must not be negative"),
        ("[alarms]\nrate_high = 70\ndelay_s = -1\n", "delay_s must not be negative"),
        ("[alarms]\nrate_high = 70\ndelay_s = 6000\n", "delay_s is above"),
        ("[alarms]\nno_input_s = 30\n", "no_input_s is above"),
        ("[alarms]\nsensor_fault_s = 5\nno_input_s = 3\n", "no_input_s contradicts"),
        ("limit_ml = 5\nlimit_delay_ms = -20\n", "limit_delay_ms"),
        ("limit_ml = 5\nlimit_delay_ms = 900\n", "limit_delay_ms is above"),
        ("oxygen_percent = 500\n", "; it must be 15 to 100"),
        ("oxygen_percent = -21\n", "; it must be 15 to 100"),
        ("peak_cmH2O = 200\n", "peak_cmH2O is above"),
        ("peak_cmH2O = 14\nsupport_peak_cmH2O = 16\n", "support_peak_cmH2O contradicts"),
        ("gap_ms = 1\n", "gap_ms is below"),
        ("grid_lowest_lpm = 0\ngrid_step_lpm = 0.1\n", "grid_lowest_lpm must be above zero"),
        ("[[changes]]\nat_s = 60\n", "entry 1 changes nothing"),
        ("oxygen_percent = 0.27\n", "oxygen_percent 0.27 is a share; it must be 15 to 100: say 27"),
        (
            "[alarms]\nleak_high_percent = 400\n",
            "leak_high_percent 400 is out of range; it must be above 0 to 100",
        ),
        (
            "[[changes]]\nat_s = 60\nheart_rate = 15000\n",
            "the entry at 60 s: heart_rate 15000 is out of range; it must be 20 to 350",
        ),
        (
            "[[changes]]\nat_s = 99999\nset_rate = 400\n",
            "the entry at 99999 s: set_rate is above the largest allowed value; it must be 0 to 150",
        ),
        ("tube_length_mm = 130\n", "tube_mm and tube_length_mm go together"),
        (
            "needed_ml_per_kg_min = -5\n",
            "needed_ml_per_kg_min -5 is out of range; it must be above 0 to 1000",
        ),
        ("weight_g = 0.98\n", "the weight is in grams: 0.98 kg are 980 g"),
        (
            "[alarms]\nlow = 3\n",
            "unknown field `low` in [alarms], line 2; the nearest that is known: rate_low,",
        ),
        (
            "wieght_g = 3\n",
            "unknown field `wieght_g` outside of any table, line 1; the nearest that is known: weight_g",
        ),
        (
            "set_rate = 40\n[alarm]\nrate_low = 3\n",
            "unknown field `alarm` outside of any table, line 2; the nearest that is known: alarms",
        ),
        (
            "[[changes]]\nat_s = 1\npeak = 3\n",
            "unknown field `peak` in [[changes]], line 3; the nearest that is known: peak_cmH2O",
        ),
    ] {
        fs::write(&path, text).unwrap();
        let outcome = replay(&["--settings", path.to_str().unwrap()]);
        assert_eq!(outcome.code, 2, "{text}");
        assert!(outcome.stderr.contains(reason), "{text}: {}", outcome.stderr);
    }
}

/// Every range that a message names: at its ends a value is taken, and beyond them refused with that range.
#[test]
fn a_range_that_is_named_is_the_one_that_holds() {
    let folder = TempDir::new().unwrap();
    let (settings, input) = (folder.path().join("s.toml"), folder.path().join("in.csv"));
    fs::write(&input, HEADER.to_owned() + &wave(0, 3)).unwrap();
    let args = [input.to_str().unwrap(), "--quiet", "--settings", settings.to_str().unwrap()];
    let cases = [
        ("weight_g", "200", "200000", "199", "200001", "200 to 200000"),
        ("threshold_lpm", "0.01", "60", "0", "60.01", "above 0 to 60"),
        ("set_rate", "0", "150", "-1", "151", "0 to 150"),
        ("peak_cmH2O", "0.1", "100", "0", "101", "above 0 to 100"),
        (
            "support_peak_cmH2O",
            "0",
            "100",
            "-1",
            "101",
            "above 0 to 100, and no more than the peak; 0 for none",
        ),
        ("oxygen_percent", "15", "100", "14", "101", "15 to 100"),
        ("needed_ml_per_kg_min", "1", "1000", "0", "1001", "above 0 to 1000"),
        ("pressure_step_cmH2O", "0.1", "5", "0.09", "5.1", "0.1 to 5"),
        ("tube_length_mm = 130\ntube_mm", "2", "4.5", "1.9", "4.6", "2 to 4.5"),
        ("tube_mm = 3\ntube_length_mm", "20", "400", "19", "401", "20 to 400"),
        ("tube_k2 = 5\ntube_k1", "0", "1000", "-1", "1001", "0 to 1000"),
        ("tube_k1 = 5\ntube_k2", "0", "10000", "-1", "10001", "0 to 10000"),
        ("flow_offset_ml_per_s", "-50", "50", "-51", "51", "-50 to 50"),
        ("target_ceiling_cmH2O = 30\ntarget_ml", "0.5", "2000", "0.4", "2001", "0.5 to 2000"),
        (
            "target_ceiling_cmH2O = 30\ntarget_ml = 5\ntarget_step_cmH2O",
            "0.1",
            "10",
            "0.09",
            "10.1",
            "0.1 to 10",
        ),
        (
            "target_least_rise_cmH2O = 0.5\ntarget_ml = 5\ntarget_ceiling_cmH2O",
            "1",
            "80",
            "0.9",
            "81",
            "1 to 80",
        ),
        (
            "target_ceiling_cmH2O = 30\ntarget_ml = 5\ntarget_least_rise_cmH2O",
            "0.5",
            "20",
            "0.4",
            "21",
            "0.5 to 20",
        ),
        ("limit_ml = 5\nlimit_delay_ms", "0", "500", "501", "900", "0 to 500"),
        ("min_flow_ml_per_s", "0.11", "1000", "0.09", "1001", "0.1 to 1000"),
        ("min_volume_ml", "0.06", "1000", "0.04", "1001", "0.05 to 1000"),
        ("inflation_rise_cmH2O", "0.5", "20", "0.4", "21", "0.5 to 20"),
        ("cut_ms = 30000\ngap_ms", "5", "1000", "4", "1001", "5 to 1000"),
        ("gap_ms = 5\ncut_ms", "5", "30000", "4", "30001", "5 to 30000"),
        ("frozen_ms", "50", "10000", "49", "10001", "50 to 10000"),
        ("[alarms]\napnoea_s", "10", "20", "9", "21", "10 to 20"),
        ("[alarms]\nno_input_s = 10\nsensor_fault_s", "0.5", "10", "0.4", "11", "0.5 to 10"),
        ("[alarms]\nsensor_fault_s = 0.5\nno_input_s", "0.5", "10", "0.4", "11", "0.5 to 10"),
        ("[alarms]\nrate_high = 70\ndelay_s", "0", "600", "-1", "601", "0 to 600"),
        ("[alarms]\nleak_high_percent", "1", "100", "0", "101", "above 0 to 100"),
        ("[[changes]]\nat_s = 1\nheart_rate", "20", "350", "19", "351", "20 to 350"),
        ("[[changes]]\nat_s = 1\nsaturation_percent", "0", "100", "101", "102", "0 to 100"),
    ];
    for (entry, least, most, below, above, range) in cases {
        for (value, is_in) in [(least, true), (most, true), (below, false), (above, false)] {
            fs::write(&settings, format!("{entry} = {value}\n")).unwrap();
            let outcome = replay(&args);
            let is_taken = outcome.code == 0;
            assert_eq!(is_taken, is_in, "{entry} = {value}: {}", outcome.stderr);
            let name = entry.lines().last().unwrap();
            let says = outcome.stderr.contains(name)
                && outcome.stderr.contains(&format!("must be {range}"))
                || name == "weight_g" && outcome.stderr.contains(range);
            assert!(is_in || says, "{entry} = {value}: {}", outcome.stderr);
        }
    }
}

#[test]
fn a_change_after_the_end_is_told() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("s.toml");
    fs::write(&path, "[[changes]]\nat_s = 99\nset_rate = 30\n").unwrap();
    let outcome = replay_stdin(
        &["-", "--settings", path.to_str().unwrap()],
        &(HEADER.to_owned() + &wave(0, 10)),
    );
    let said = "one change told lie after the end of the recording, 10 s, and were not made";
    assert!(outcome.stderr.contains(said), "{}", outcome.stderr);
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
fn a_support_of_zero_is_none() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("s.toml");
    fs::write(&path, "set_rate = 0\nsupport_peak_cmH2O = 0\n").unwrap();
    let recording = HEADER.to_owned() + &wave(0, 10);
    let outcome = replay_stdin(&["-", "--settings", path.to_str().unwrap()], &recording);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
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
