//! Recordings beside the project, read in place.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::{fs, io};
use tidevane::monitor::{BreathReport, Monitor, Settings};
use tidevane::quantity::{Flow, Instant, Pressure};
use tidevane::signal::Reading;

/// A folder of recordings in `../shared/data`; `None`, said aloud, where it is absent.
#[must_use]
pub fn folder(name: &str) -> Option<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let path = root.join("../shared/data").join(name);
    if path.is_dir() {
        return Some(path);
    }
    skipped(&format!("no recordings in ../shared/data/{name}"));
    None
}

/// Says on standard output that a check was left out. Written there directly: what a test prints is
/// shown only where it fails.
pub fn skipped(why: &str) {
    let test = std::thread::current().name().unwrap_or("a check").to_owned();
    let mut out = io::stdout().lock();
    let _ = writeln!(out, "\nSKIPPED: {test}: {why}").and_then(|()| out.flush());
}

/// The rows of a recording: times in µs, and readings.
///
/// # Panics
/// Where the file cannot be read or holds anything else.
#[must_use]
pub fn rows(path: &Path) -> Vec<(u64, Reading)> {
    let text = fs::read_to_string(path).expect("readable recording");
    text.lines()
        .skip(1)
        .map(|line| {
            let mut cells = line.split(',');
            let t = cells.next().unwrap().parse().unwrap();
            let flow = Flow::new(cells.next().unwrap().parse().unwrap());
            let pressure = Pressure::new(cells.next().unwrap().parse().unwrap());
            (t, Reading { flow, pressure })
        })
        .collect()
}

/// Every breath that the monitor closes over the rows.
#[must_use]
pub fn breaths(settings: Settings, rows: &[(u64, Reading)]) -> Vec<BreathReport> {
    let mut monitor = Monitor::new(settings);
    let mut out = Vec::new();
    for &(t, reading) in rows {
        out.extend(monitor.push_at(Instant::from_us(t), reading).breath);
    }
    out.extend(std::iter::from_fn(|| monitor.finish().breath));
    out
}
