//! Whatever comes in: a clear error or a flag, and nothing before it lost.

mod common;

use common::cli::{Outcome, replay, replay_from, replay_in, replay_stdin, replay_to};
use std::fmt::Write as _;
use std::fs;
use tempfile::TempDir;
use tidevane::monitor::{Happening, Monitor, Settings};
use tidevane::quantity::{Flow, Moment, Pressure};
use tidevane::signal::{Flags, Reading, Refusal};

const HEADER: &str = "t_us,flow_ml_per_s,paw_cmH2O\n";

/// Inflations of 30 mL/s for 0.3 s and their way out over 0.7 s, at 100 Hz: 60 a minute.
fn wave(from_s: u64, seconds: u64) -> String {
    let mut text = String::new();
    for i in from_s * 100..(from_s + seconds) * 100 {
        let phase = i % 100;
        // 30 × 0.3 s = 9 mL in, 22.5 × 0.4 s = 9 mL out; a small ripple keeps readings alive
        let (flow, pressure) = match phase {
            0..30 => (30.0, 15.0),
            30..70 => (-22.5, 5.0),
            _ => (0.0, 5.0),
        };
        let alive = f64::from(u32::try_from(i % 7).unwrap()) * 0.01;
        writeln!(text, "{},{:.3},{:.3}", i * 10_000, flow + alive, pressure + alive).unwrap();
    }
    text
}

fn with_file(text: &str, extra: &[&str]) -> (Outcome, Vec<String>, Vec<String>) {
    let folder = TempDir::new().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    fs::write(path("in.csv"), text).unwrap();
    let (input, breaths, events) = (path("in.csv"), path("breaths.csv"), path("events.csv"));
    let mut args = vec![input.as_str(), "--breaths", breaths.as_str(), "--events", events.as_str()];
    args.extend(extra);
    let outcome = replay(&args);
    let lines = |path: &str| {
        fs::read_to_string(path).map_or_else(|_| vec![], |t| t.lines().map(Into::into).collect())
    };
    (outcome, lines(&breaths), lines(&events))
}

/// Refused with exit code 2, the file's name and the reason, and nothing written.
fn refused(text: &str, reason: &str) {
    let (outcome, breaths, events) = with_file(text, &[]);
    assert_eq!(outcome.code, 2, "{}", outcome.stderr);
    assert!(
        outcome.stderr.contains("in.csv") && outcome.stderr.contains(reason),
        "{}",
        outcome.stderr
    );
    assert!(outcome.stdout.is_empty() && breaths.is_empty() && events.is_empty());
}

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
    refused("time,flow,pressure\n0,1,5\n", "time,flow,pressure");
    refused("t_us,t_s,flow_ml_per_s,paw_cmH2O\n0,0,1,5\n", "already");
}

#[test]
fn a_missing_file_is_refused() {
    let outcome = replay(&["no-such-recording.csv"]);
    assert_eq!(outcome.code, 2);
    assert!(outcome.stderr.contains("no-such-recording.csv"), "{}", outcome.stderr);
}

#[test]
fn a_file_of_nothing_but_bad_lines_is_refused() {
    refused(&format!("{HEADER}a,b,c\n1,2\n"), "no usable sample");
}

/// A clean recording of ten breaths with one line replaced at 5.5 s.
fn spoilt(line: &str) -> String {
    let clean = wave(0, 10);
    let mut lines: Vec<_> = clean.lines().collect();
    lines[550] = line;
    format!("{HEADER}{}\n", lines.join("\n"))
}

/// The breath at 5 s alone is flagged, the rest go on.
fn flags_one_breath(text: &str, flag: &str) -> Outcome {
    let (outcome, breaths, _) = with_file(text, &[]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    assert_eq!(breaths.len(), 1 + 10, "header and ten breaths: {breaths:#?}");
    for (second, row) in breaths[1..].iter().enumerate() {
        let flags = row.rsplit(',').next().unwrap();
        let expected = match second {
            0 => "begun-before",
            5 => flag,
            9 => "cut",
            _ => "",
        };
        assert_eq!(flags, expected, "{row}");
    }
    outcome
}

#[test]
fn text_in_a_number_is_a_gap_with_its_line() {
    let outcome = flags_one_breath(&spoilt("5500000,many,5"), "gap");
    assert!(outcome.stderr.contains("in.csv:552: \"many\" is not a number"), "{}", outcome.stderr);
    assert!(outcome.stdout.contains("1 lines could not be read"), "{}", outcome.stdout);
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
    assert!(outcome.stdout.contains("1 samples over 0.0 s; 0 breaths"), "{}", outcome.stdout);
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
        let report = monitor.push_at(Moment::from_us(ms * 1_000), wild);
        assert!(report.breath.is_none());
        events.extend(report.events.iter().copied());
    }
    // Said once, not a thousand times.
    assert_eq!(events.len(), 1);
    assert_eq!(events[0].what, Happening::Refused(Refusal::FlowOutOfRange));
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
    let flags: Vec<_> = breaths[1..].iter().map(|row| row.rsplit(',').next().unwrap()).collect();
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
        (["--threshold-lpm", "-0.2"], "threshold"),
        (["--threshold-lpm", "nan"], "threshold_lpm"),
        (["--set-rate", "400"], "set_rate"),
    ] {
        let outcome = replay(&args);
        assert_eq!(outcome.code, 2, "{args:?}");
        assert!(outcome.stderr.contains(name), "{args:?}: {}", outcome.stderr);
    }
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("s.toml");
    fs::write(&path, "weight = 3\n").unwrap();
    let outcome = replay(&["--settings", path.to_str().unwrap()]);
    assert_eq!(outcome.code, 2);
    assert!(outcome.stderr.contains("unknown field `weight`"), "{}", outcome.stderr);
}

#[test]
fn a_sensor_that_drops_out_flags_its_breaths_only() {
    let mut monitor = Monitor::new(Settings::default());
    let mut flags = Vec::new();
    for line in wave(0, 10).lines() {
        let cells: Vec<f64> = line.split(',').map(|c| c.parse().unwrap()).collect();
        let at = Moment::from_us(cells[0] as u64);
        // Silent from 5.80 to 6.05 s: the end of one breath and the beginning of the next.
        if at > Moment::from_us(5_800_000) && at < Moment::from_us(6_050_000) {
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

/// A folder of its own, with a recording of ten breaths in it.
struct Folder(TempDir);

impl Folder {
    fn new() -> Self {
        let folder = Self(TempDir::new().unwrap());
        fs::write(folder.path("in.csv"), format!("{HEADER}{}", wave(0, 10))).unwrap();
        folder
    }

    fn path(&self, name: &str) -> String {
        self.0.path().join(name).to_str().unwrap().to_owned()
    }

    /// Runs inside the folder.
    fn run(&self, args: &[&str]) -> Outcome {
        replay_in(self.0.path(), args)
    }

    fn read(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).unwrap()
    }

    fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(self.0.path()).unwrap();
        let mut names: Vec<_> =
            entries.map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }
}

#[test]
fn one_file_under_two_options_is_refused_and_kept() {
    let folder = Folder::new();
    fs::write(folder.path("s.toml"), "weight_g = 980\n").unwrap();
    let before = folder.read("in.csv");
    let absolute = folder.path("in.csv");
    for (args, options) in [
        (&["in.csv", "--breaths", "./in.csv"][..], ["FILE", "--breaths"]),
        (&["in.csv", "--chart", &absolute], ["FILE", "--chart"]),
        (&["in.csv", "--settings", "s.toml", "--events", "s.toml"], ["--settings", "--events"]),
        (&["in.csv", "--breaths", "new.csv", "--events", "./new.csv"], ["--breaths", "--events"]),
        (&["--events", "new.csv", "--chart", "new.csv"], ["--events", "--chart"]),
    ] {
        let outcome = folder.run(args);
        assert_eq!(outcome.code, 2, "{args:?}");
        assert!(options.iter().all(|o| outcome.stderr.contains(o)), "{}", outcome.stderr);
        assert_eq!(folder.names(), ["in.csv", "s.toml"]);
    }
    assert_eq!(folder.read("in.csv"), before);
    assert_eq!(folder.read("s.toml"), "weight_g = 980\n");
}

#[cfg(unix)]
#[test]
fn links_are_followed_and_seen_through() {
    use std::os::unix::fs::symlink;
    let folder = Folder::new();
    fs::create_dir(folder.path("sub")).unwrap();
    fs::write(folder.path("sub/old.csv"), "old").unwrap();
    symlink("sub/old.csv", folder.path("link.csv")).unwrap();
    symlink("sub/new.csv", folder.path("dangling.csv")).unwrap();
    symlink("in.csv", folder.path("input.csv")).unwrap();
    let outcome = folder.run(&["in.csv", "--breaths", "link.csv", "--events", "dangling.csv"]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    assert!(folder.read("sub/old.csv").starts_with("onset_us,"));
    assert!(folder.read("sub/new.csv").starts_with("t_us,event"));
    for link in ["link.csv", "dangling.csv"] {
        assert!(fs::symlink_metadata(folder.path(link)).unwrap().is_symlink());
    }
    for (one, other) in [("in.csv", "input.csv"), ("link.csv", "sub/old.csv")] {
        let outcome = folder.run(&["in.csv", "--breaths", one, "--events", other]);
        assert_eq!(outcome.code, 2, "{one} {other}");
    }
    let text = folder.read("in.csv");
    let outcome =
        replay_from(&folder.path("in.csv"), folder.0.path(), &["-", "--events", "in.csv"]);
    assert!(outcome.code == 2 && folder.read("in.csv") == text, "{}", outcome.stderr);
    symlink("gone.csv", folder.path("a.csv")).unwrap();
    assert_eq!(folder.run(&["in.csv", "--breaths", "a.csv", "--events", "gone.csv"]).code, 2);
}

#[cfg(target_os = "linux")]
#[test]
fn standard_output_is_written_to_whatever_it_is() {
    let folder = Folder::new();
    // A link as /dev/stdout is one, but not the machine's own, which a mistake would destroy.
    std::os::unix::fs::symlink("/proc/self/fd/1", folder.path("stdout")).unwrap();
    let outcome = folder.run(&["in.csv", "--quiet", "--breaths", "stdout"]);
    assert_eq!((outcome.stdout.lines().count(), outcome.stderr.as_str()), (11, ""));
    // A plain file under its own name and under that of the device.
    for name in ["stdout", "out.csv", "/dev/fd/1"] {
        let args = ["in.csv", "--breaths", name, "--events", "e.csv"];
        let outcome = replay_to(&folder.path("out.csv"), folder.0.path(), &args);
        assert_eq!(outcome.code, 0, "{}", outcome.stderr);
        let out = folder.read("out.csv");
        assert!(out.starts_with("onset_us,") && out.contains("Advisory only"), "{name}: {out}");
    }
    assert_eq!(folder.names(), ["e.csv", "in.csv", "out.csv", "stdout"]);
    assert!(fs::symlink_metadata(folder.path("stdout")).unwrap().is_symlink());
}

#[cfg(unix)]
#[test]
fn files_get_the_usual_rights_and_keep_their_own() {
    use std::os::unix::fs::PermissionsExt;
    let folder = Folder::new();
    fs::write(folder.path("kept.csv"), "").unwrap();
    fs::set_permissions(folder.path("kept.csv"), fs::Permissions::from_mode(0o620)).unwrap();
    fs::write(folder.path("usual"), "").unwrap();
    let args = ["in.csv", "--breaths", "kept.csv", "--events", "e.csv", "--chart", "c.svg"];
    assert_eq!(folder.run(&args).code, 0);
    let mode = |name: &str| fs::metadata(folder.path(name)).unwrap().permissions().mode() & 0o777;
    assert_eq!(mode("kept.csv"), 0o620);
    assert_eq!([mode("e.csv"), mode("c.svg")], [mode("usual"); 2]);
}

#[test]
fn a_chart_that_cannot_be_written_leaves_no_table() {
    let folder = Folder::new();
    fs::create_dir(folder.path("folder")).unwrap();
    for chart in ["no/c.svg", "folder"] {
        let outcome = folder.run(&["in.csv", "--breaths", "b.csv", "--chart", chart]);
        assert_eq!(outcome.code, 2);
        assert!(outcome.stderr.contains(chart), "{}", outcome.stderr);
        assert_eq!(folder.names(), ["folder", "in.csv"]);
    }
}

#[test]
fn a_stray_quote_spoils_its_own_line_only() {
    let long = format!("5500000,\"{}", "x".repeat(200));
    let outcome = flags_one_breath(&spoilt(&long), "gap");
    assert!(outcome.stderr.contains("in.csv:552: a quote is not closed"), "{}", outcome.stderr);
    let outcome = flags_one_breath(&spoilt(&format!("5500000,\"{}\",5", "x".repeat(200))), "gap");
    assert!(outcome.stderr.contains(&format!("\"{}…\"", "x".repeat(40))), "{}", outcome.stderr);
    let quoted = spoilt("\"5500000\", \"-22.4\" ,5.01").replacen("t_us", "\u{feff}\"t_us\"", 1);
    let (outcome, breaths, _) = with_file(&quoted.replace(" \"-22.4\" ", "\"-22.4\""), &[]);
    assert!(outcome.stderr.is_empty() && breaths[6].ends_with(','), "{}", outcome.stderr);
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
fn utf16_is_named() {
    let folder = Folder::new();
    let text = folder.read("in.csv");
    let swapped = |unit: u16| unit.swap_bytes().to_ne_bytes();
    let units = || std::iter::once(0xfeff).chain(text.encode_utf16());
    fs::write(folder.path("a.csv"), units().flat_map(u16::to_ne_bytes).collect::<Vec<_>>())
        .unwrap();
    fs::write(folder.path("b.csv"), units().flat_map(swapped).collect::<Vec<_>>()).unwrap();
    for name in ["a.csv", "b.csv"] {
        let outcome = folder.run(&[name]);
        assert_eq!(outcome.code, 2);
        assert!(outcome.stderr.contains(&format!("{name}: this is UTF-16")), "{}", outcome.stderr);
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
    assert!(outcome.stdout.contains("1000 samples over 10.0 s; 10 breaths"), "{}", outcome.stdout);
    let flagged = folder.read("b.csv").lines().skip(1).filter(|row| !row.ends_with(',')).count();
    assert_eq!(flagged, 2, "the first and the last alone");
    stays_inside(&folder.read("c.svg"));
}

#[test]
fn a_clock_that_is_set_back_does_not_shorten_the_recording() {
    let folder = Folder::new();
    let text = timed(|us| if us < 5_000_000 { us + 90_000_000 } else { us });
    fs::write(folder.path("reset.csv"), text).unwrap();
    let outcome = folder.run(&["reset.csv", "--chart", "c.svg"]);
    assert!(outcome.stdout.contains("1000 samples over 10.0 s"), "{}", outcome.stdout);
    stays_inside(&folder.read("c.svg"));
}

#[test]
fn a_stray_time_in_the_far_future_does_not_spoil_the_chart() {
    let folder = Folder::new();
    fs::write(folder.path("far.csv"), spoilt("900000000000000,0,5")).unwrap();
    let outcome = folder.run(&["far.csv", "--breaths", "b.csv", "--chart", "c.svg"]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    // The jump ahead counts for the cut limit of 1 s.
    assert!(outcome.stdout.contains("1000 samples over 11.0 s"), "{}", outcome.stdout);
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
        outcome.stdout.replace('\n', " ").contains("is the flow sensor the wrong way round?")
    };
    assert!(asked(&changed(20, |flow, pressure| (-flow, pressure))));
    assert!(!asked(&changed(20, |flow, pressure| (flow, pressure))));
    // Own breaths under a steady pressure, a little higher on the way out.
    assert!(!asked(&changed(20, |flow, _| (flow, 5.0 - 0.02 * flow))));
}

#[test]
fn few_own_breaths_are_not_stretched_to_nineteen_of_twenty() {
    let report = |seconds| with_file(&changed(seconds, |flow, _| (flow, 5.0 - 0.02 * flow)), &[]).0;
    let few = report(20);
    assert!(few.stdout.contains("18 own breaths are too few"), "{}", few.stdout);
    assert!(!few.stdout.contains("19 of 20 own breaths expire"));
    assert!(report(23).stdout.contains("19 of 20 own breaths expire"));
}

#[test]
fn a_flow_that_never_turns_outward_is_called_that() {
    let (outcome, _, _) = with_file(&changed(20, |flow, p| (flow.max(0.0) * 2.0 + 3.0, p)), &[]);
    assert!(outcome.stdout.contains("no expiratory flow was seen"), "{}", outcome.stdout);
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
