//! The second simulated family, which shares nothing with the project's own: where the segmentation in `f64` finds
//! the borders of breaths there, within a sample of the monitor's.

use crate::counted;
use crate::set::{Known, Set};
use crate::table::Table;
use flate2::read::GzDecoder;
use serde_json::Value;
use std::io::Read;
use std::path::Path;
use tidevane::quantity::{Flow, Instant, Pressure};
use tidevane::signal::Reading;
use tidevane_support::recordings::{folder, skipped};

/// Of a hundred borders so many are found again.
const BAR: f64 = 99.0;
fn unpacked(path: &Path) -> String {
    let mut text = String::new();
    let file = std::fs::File::open(path).expect("a recording");
    GzDecoder::new(file).read_to_string(&mut text).expect("text that was packed");
    text
}

/// Times in µs, flows in mL/s, pressures in cmH2O, behind a header.
fn readings(path: &Path) -> Vec<(Instant, Reading)> {
    let text = unpacked(path);
    let row = |line: &str| {
        let mut cells = line.split(',').map(|cell| cell.parse::<f64>().expect("a number"));
        let mut next = || cells.next().expect("three columns");
        let (us, flow, pressure) = (next(), next(), next());
        let bits = |x: f64| (x * 65_536.0).round() as i32;
        let reading = Reading {
            flow: Flow::from_bits(bits(flow)),
            pressure: Pressure::from_bits(bits(pressure)),
        };
        (Instant::from_us(us as u64), reading)
    };
    text.lines().skip(1).map(row).collect()
}

#[test]
fn the_second_familys_borders_are_found_again() {
    let Some(folder) = folder("sim2") else { return };
    let files = std::fs::read_dir(&folder).expect("a folder").map(|entry| entry.expect("a file"));
    let mut names: Vec<_> = files
        .filter_map(|file| file.file_name().to_str()?.strip_suffix(".csv.gz").map(str::to_owned))
        .collect();
    names.sort();
    if names.is_empty() {
        return skipped(&format!("no recordings in {}", folder.display()));
    }
    let (mut wrong, mut found, mut all) = (Vec::new(), 0, 0);
    for name in names {
        let truth = unpacked(&folder.join(format!("{name}.truth.json.gz")));
        let truth: Value = serde_json::from_str(&truth).expect("JSON");
        let number = |path: &str| truth.pointer(path).and_then(Value::as_f64);
        // L/min to mL/s. No border hangs on threshold or rate: one that is not set is any.
        let threshold = number("/settings/threshold_lpm").map_or(10.0, |lpm| lpm * 1e3 / 60.0);
        let rate = number("/settings/set_rate").unwrap_or(30.0);
        let set = Set::new(Known::Nothing, threshold, rate, 1_000.0);
        let rows = readings(&folder.join(format!("{name}.csv.gz")));
        let second = counted(0, set, &rows, &mut Table::default());
        let sample = 1e6 / number("/fs_hz").expect("a rate");
        let again: Vec<_> = second.again(sample).collect();
        let lost: Vec<f64> =
            again.iter().filter(|(_, found)| !found).map(|(us, _)| us / 1e6).collect();
        let share = 100.0 * (1.0 - lost.len() as f64 / again.len().max(1) as f64);
        println!("{name:22}{:5} borders, {share:6.2} % found again", again.len());
        if !lost.is_empty() {
            println!("{:22}not at {lost:.2?} s", "");
        }
        (found, all) = (found + again.len() - lost.len(), all + again.len());
        if again.len() < 40 || share < BAR {
            wrong.push(format!(
                "{name}: {share:.2} % of {} borders, {BAR} % at least; not at {lost:.2?} s",
                again.len()
            ));
        }
    }
    let share = 100.0 * found as f64 / all as f64;
    println!(
        "{found} of {all} borders of the second family, {share:.2} %, found again within a sample"
    );
    assert!(share >= BAR && wrong.is_empty(), "{share:.2} % of all, {BAR} % at least; {wrong:#?}");
}
