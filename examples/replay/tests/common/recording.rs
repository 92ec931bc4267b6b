//! Recordings made for the replay program, and folders to run it in.

use super::cli::{Outcome, replay, replay_in};
use std::fmt::Write as _;
use std::fs;
use tempfile::TempDir;
use tidevane_sim::{Scenario, Simulator};

pub(crate) const HEADER: &str = "t_us,flow_ml_per_s,paw_cmH2O\n";

/// Inflations of 30 mL/s for 0.3 s and their way out over 0.7 s, at 100 Hz: 60 a minute.
pub(crate) fn wave(from_s: u64, seconds: u64) -> String {
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

/// A scenario as a recording.
pub(crate) fn simulated(scenario: &Scenario, seconds: u64) -> String {
    let mut simulator = Simulator::new(scenario).unwrap();
    let mut text = HEADER.to_owned();
    loop {
        let output = simulator.step();
        if output.at_us > seconds * 1_000_000 {
            return text;
        }
        if let Some(sample) = output.sample {
            let (flow, pressure) = (sample.flow, sample.pressure);
            writeln!(text, "{},{flow:.4},{pressure:.4}", output.at_us).unwrap();
        }
    }
}

pub(crate) fn with_file(text: &str, extra: &[&str]) -> (Outcome, Vec<String>, Vec<String>) {
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
pub(crate) fn refused(text: &str, reason: &str) {
    let (outcome, breaths, events) = with_file(text, &[]);
    assert_eq!(outcome.code, 2, "{}", outcome.stderr);
    assert!(
        outcome.stderr.contains("in.csv") && outcome.stderr.contains(reason),
        "{}",
        outcome.stderr
    );
    assert!(outcome.stdout.is_empty() && breaths.is_empty() && events.is_empty());
}

/// A clean recording of ten breaths with one line replaced at 5.5 s.
pub(crate) fn spoilt(line: &str) -> String {
    let clean = wave(0, 10);
    let mut lines: Vec<_> = clean.lines().collect();
    lines[550] = line;
    format!("{HEADER}{}\n", lines.join("\n"))
}

/// The flags of a row: its seventeenth cell.
pub(crate) fn flags_of(row: &str) -> &str {
    row.split(',').nth(16).unwrap()
}

/// The breath at 5 s alone is flagged, the rest go on.
pub(crate) fn flags_one_breath(text: &str, flag: &str) -> Outcome {
    let (outcome, breaths, _) = with_file(text, &[]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    assert_eq!(breaths.len(), 1 + 10, "header and ten breaths: {breaths:#?}");
    for (second, row) in breaths[1..].iter().enumerate() {
        let flags = flags_of(row);
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

/// A folder of its own, with a recording of ten breaths in it.
pub(crate) struct Folder(pub(crate) TempDir);

impl Folder {
    pub(crate) fn new() -> Self {
        let folder = Self(TempDir::new().unwrap());
        fs::write(folder.path("in.csv"), format!("{HEADER}{}", wave(0, 10))).unwrap();
        folder
    }

    pub(crate) fn path(&self, name: &str) -> String {
        self.0.path().join(name).to_str().unwrap().to_owned()
    }

    /// Runs inside the folder.
    pub(crate) fn run(&self, args: &[&str]) -> Outcome {
        replay_in(self.0.path(), args)
    }

    pub(crate) fn read(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).unwrap()
    }

    pub(crate) fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(self.0.path()).unwrap();
        let mut names: Vec<_> =
            entries.map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }
}
