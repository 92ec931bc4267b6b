//! What the integration tests share: recordings, truth, and an exact oracle.
#![allow(dead_code, reason = "each test crate uses its own part")]

pub(crate) mod cli;
pub(crate) mod curve;
pub(crate) mod parts;
pub(crate) mod recording;
pub(crate) mod scenario;

use std::fs;
use std::path::PathBuf;
use tidevane::breath::Breath;
use tidevane::monitor::{BreathReport, Monitor, Settings};
use tidevane::quantity::{Flow, Moment, Pressure};
use tidevane::signal::Reading;

/// A folder of recordings beside the project; `None`, said aloud, where it is absent.
pub(crate) fn recordings(folder: &str) -> Option<PathBuf> {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../shared/data").join(folder);
    if path.is_dir() {
        Some(path)
    } else {
        eprintln!("SKIPPED: no recordings at {}; nothing was checked against them", path.display());
        None
    }
}

/// The rows of a recording.
pub(crate) fn rows(path: &std::path::Path) -> Vec<(u64, Reading)> {
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
pub(crate) fn breaths(settings: Settings, rows: &[(u64, Reading)]) -> Vec<BreathReport> {
    let mut monitor = Monitor::new(settings);
    let mut out = Vec::new();
    for &(t, reading) in rows {
        out.extend(monitor.push_at(Moment::from_us(t), reading).breath);
    }
    out.extend(monitor.finish().breath);
    out
}

/// Bits of sixteen fraction bits as a float.
pub(crate) fn float(bits: i32) -> f64 {
    f64::from(bits) / 65_536.0
}

/// Inspired volume in mL.
pub(crate) fn inspired(breath: &Breath) -> f64 {
    float(breath.inspired.value.to_bits())
}

/// Expired volume in mL.
pub(crate) fn expired(breath: &Breath) -> f64 {
    float(breath.expired.value.to_bits())
}
