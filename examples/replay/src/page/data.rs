//! What the page's script reads: numbers of the figures, and the windows as one byte a reading.

use super::multiples::Multiples;
use super::strips::{breaths, named};
use super::volumes::Tried;
use super::windows::{READINGS, Windows};
use super::{tradeoff, windows};
use crate::figures::Summary;
use crate::report::wanted::{Trial, Wanted};
use base64::{Engine, prelude::BASE64_STANDARD};
use serde_json::{Value, json};

/// So many steps from the lowest to the highest reading; 0 stands for none.
const STEPS: f64 = 254.0;

pub(super) fn json(
    summary: &Summary,
    multiples: &Multiples,
    (levels, targets): (&[Tried], &[Wanted]),
    windows: &Windows,
) -> String {
    let lines = multiples.lines.iter().flat_map(|line| {
        line.curves.iter().map(move |curve| {
            let medians = curve.bins.iter().map(|bin| bin.map(|b| rounded(b[1])));
            json!({
                "name": if curve.name.is_empty() { line.title.to_owned() } else { format!("{}, {}", line.title, curve.name) },
                "unit": line.unit,
                "places": line.places,
                "values": medians.collect::<Vec<_>>(),
            })
        })
    });
    let thresholds = tradeoff::levels(summary).into_iter().map(|level| {
        json!({ "at": rounded(level.lpm), "cycled": rounded(level.cycled), "missed": level.missed.map(|(a, b)| [rounded(a), rounded(b)]) })
    });
    let levels = levels.iter().map(|t| {
        json!({ "at": rounded(t.level), "rings": rounded(t.rings_an_hour), "ringing": rounded(t.ringing), "under": rounded(t.under) })
    });
    let targets = targets.iter().map(|t| {
        json!({
            "at": rounded(t.ml),
            "told": super::targets::told(summary, t.ml),
            "peak": t.peak.map(rounded),
            "above": t.above.map(rounded),
            "under": rounded(t.under),
        })
    });
    let bar = Trial::of(summary).and_then(|trial| trial.bar).map_or("", |(name, _)| name);
    let all = json!({
        "end": summary.seconds,
        "bin": multiples.bins.each,
        "times": (0..multiples.bins.count).map(|i| summary.clock(multiples.bins.middle(i).min(summary.seconds))).collect::<Vec<_>>(),
        "lines": lines.collect::<Vec<_>>(),
        "thresholds": thresholds.collect::<Vec<_>>(),
        "levels": levels.collect::<Vec<_>>(),
        "targets": targets.collect::<Vec<_>>(),
        "bar": bar,
        "windows": readings(summary, windows),
    });
    // Within an element of a page nothing may end it.
    let text = all.to_string();
    if text.contains('<') { text.replace('<', "\\u003c") } else { text }
}

/// To four places, which is finer than anything measured here.
fn rounded(value: f64) -> f64 {
    // No zero with a sign.
    (value * 1e4).round() / 1e4 + 0.0
}

fn readings(summary: &Summary, windows: &Windows) -> Value {
    let all =
        |i: usize| windows.minutes.iter().flat_map(move |w| w.values(i)).filter(|v| !v.is_nan());
    let coded = |i: usize| {
        let low = all(i).fold(f64::MAX, f64::min);
        let high = all(i).fold(f64::MIN, f64::max).max(low + 1.0);
        let byte = |value: f64| {
            if value.is_nan() {
                0
            } else {
                1 + ((value - low) / (high - low) * STEPS).round() as u8
            }
        };
        let bytes: Vec<u8> = windows.minutes.iter().flat_map(|w| w.values(i).map(byte)).collect();
        if bytes.is_empty() {
            return Value::Null;
        }
        json!({ "low": rounded(low), "high": rounded(high), "bytes": BASE64_STANDARD.encode(bytes) })
    };
    let named = windows.minutes.iter().map(|window| {
        let breaths = breaths(summary, window);
        breaths
            .iter()
            .map(|row| json!([rounded(row.onset_s - window.from_s), named(row)]))
            .collect::<Vec<_>>()
    });
    json!({
        "from": windows.minutes.iter().map(|w| w.from_s).collect::<Vec<_>>(),
        "times": windows.minutes.iter().map(|w| summary.wall.exact(w.from_s)).collect::<Vec<_>>(),
        "long": windows::LONG,
        "readings": READINGS,
        "flow": coded(0),
        "pressure": coded(1),
        "breaths": named.collect::<Vec<_>>(),
    })
}
