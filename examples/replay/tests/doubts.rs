//! What of a recording as a whole cannot be is named, and comforts nobody.

mod common;

use common::cli::{Outcome, replay};
use common::recording::{HEADER, wave};
use std::fs;
use tempfile::TempDir;

/// Two minutes of inflations, 18 mL/s on average and from 5 to 15 cmH2O, written otherwise.
fn otherwise(header: &str, args: &[&str], other: impl Fn(f64, f64, f64) -> [f64; 3]) -> Outcome {
    each(1, header, args, other)
}

/// Every so many samples of that.
fn each(
    nth: usize,
    header: &str,
    args: &[&str],
    other: impl Fn(f64, f64, f64) -> [f64; 3],
) -> Outcome {
    let mut text = header.to_owned();
    for line in wave(0, 120).lines().step_by(nth) {
        let cells: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
        let [us, flow, pressure] = other(cells[0], cells[1], cells[2]);
        text += &format!("{us},{flow:.6},{pressure:.6}\n");
    }
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("in.csv");
    fs::write(&path, text).unwrap();
    let outcome = replay(&[&[path.to_str().unwrap(), "--weight-g", "1500"], args].concat());
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    outcome
}

/// Said on standard error and on top of the report, and no answer comforts.
fn in_doubt(outcome: &Outcome, words: &[&str]) {
    let on_top = outcome.stdout.split("## ").next().unwrap();
    let on_top = on_top.split_whitespace().collect::<Vec<_>>().join(" ");
    for word in words {
        assert!(outcome.stderr.contains(word), "{word}: {}", outcome.stderr);
        assert!(on_top.contains(word), "{word}: {on_top}");
    }
    assert!(!outcome.stdout.contains("no sign "), "{}", outcome.stdout);
}

#[test]
fn an_honest_recording_is_not_in_doubt() {
    let outcome = otherwise(HEADER, &[], |us, flow, pressure| [us, flow, pressure]);
    assert!(!outcome.stderr.contains("in doubt"), "{}", outcome.stderr);
    assert!(!outcome.stdout.contains("IN DOUBT"), "{}", outcome.stdout);
    assert!(outcome.stdout.contains("no sign"), "{}", outcome.stdout);
}

#[test]
fn a_pressure_in_another_unit_is_named() {
    // 1 kPa is 10.197 cmH2O: 5 to 15 cmH2O are 0.49 to 1.47 kPa.
    let outcome = otherwise(HEADER, &[], |us, flow, pressure| [us, flow, pressure / 10.197]);
    in_doubt(&outcome, &["kPa (times 10.2)", "swings by"]);
    // 5 cmH2O are 490 Pa, beyond the range of 200 where most lie; 5 read as kPa are 51 cmH2O.
    let outcome = otherwise(HEADER, &[], |us, flow, pressure| [us, flow, pressure * 98.0665]);
    in_doubt(&outcome, &["Pa (times 1/98.1)"]);
    let header = "t_us,flow_ml_per_s,paw_kpa\n";
    let outcome = otherwise(header, &[], |us, flow, pressure| [us, flow, pressure]);
    in_doubt(&outcome, &["cmH2O (times 1/10.2)"]);
    let outcome = otherwise(HEADER, &[], |us, flow, pressure| [us, flow, pressure + 1_033.0]);
    in_doubt(&outcome, &["absolute"]);
}

#[test]
fn a_pressure_that_says_nothing_is_named() {
    let outcome = otherwise(HEADER, &[], |us, flow, _| [us, flow, 5.0]);
    in_doubt(&outcome, &["pressure stands at 5.0 cmH2O in all samples"]);
    let outcome = otherwise(HEADER, &[], |us, flow, _| [us, flow, 0.0]);
    in_doubt(&outcome, &["pressure stands at 0.0 cmH2O in all samples"]);
    // Noise from 4 to 6: the fraction of a number that grows by its square.
    let noise = |us: f64| ((us / 10_000.0).powi(2) * 0.618_033_988).fract();
    let outcome = otherwise(HEADER, &[], |us, flow, _| [us, flow, 4.0 + 2.0 * noise(us)]);
    in_doubt(&outcome, &["pressure has nothing to do with flow"]);
}

#[test]
fn signs_turned_are_named() {
    let outcome = otherwise(HEADER, &[], |us, flow, pressure| [us, -flow, -pressure]);
    in_doubt(&outcome, &["pressure lies under zero in 100 %", "flow=-NAME,pressure=-NAME"]);
    let outcome = otherwise(HEADER, &[], |us, flow, pressure| [us, flow, -pressure]);
    in_doubt(&outcome, &["the sign of pressure may be turned"]);
    // And what is advised works.
    let turned = ["--columns", "time=1:us,flow=-2:mL/s,pressure=-3:cmH2O"];
    let outcome = otherwise(HEADER, &turned, |us, flow, pressure| [us, -flow, -pressure]);
    assert!(!outcome.stderr.contains("in doubt"), "{}", outcome.stderr);
}

#[test]
fn a_channel_that_is_cut_off_is_named() {
    // A sine of 3 over each plateau, cut off two thirds of it below the middle: of a plateau that is three tenths of all
    // the sine lies above for 1/2 + asin(2/3)/pi = 0.73, 22 %.
    let wavy = |us: f64| 3.0 * (us / 10_000.0 * 0.37).sin();
    let outcome = otherwise(HEADER, &[], |us, flow, pressure| {
        [us, flow + wavy(us), (pressure + wavy(us)).min(13.0)]
    });
    in_doubt(&outcome, &["pressure stands at exactly 13.0 in 22 % of all samples"]);
    // Of 12, from two below the middle: 1/2 + asin(1/6)/pi = 0.55, 17 %.
    let outcome = otherwise(HEADER, &[], |us, flow, pressure| {
        [us, (flow + 4.0 * wavy(us)).min(28.0), pressure + wavy(us)]
    });
    in_doubt(&outcome, &["flow stands at exactly 28.0 in 17 % of all samples"]);
}

#[test]
fn a_flow_in_another_unit_is_named() {
    // 18 mL/s are 1.08 L/min, 0.018 L/s and 1080 mL/min.
    let as_ml_per_s =
        [(0.06, "L/min (times 16.7)"), (0.001, "L/s (times 1000)"), (60.0, "mL/min (times 1/60)")];
    for (times, guess) in as_ml_per_s {
        let outcome = otherwise(HEADER, &[], |us, flow, pressure| [us, flow * times, pressure]);
        in_doubt(&outcome, &["flow is ", guess]);
    }
    let lpm = "t_us,flow_l_per_min,paw_cmH2O\n";
    let outcome = otherwise(lpm, &[], |us, flow, pressure| [us, flow, pressure]);
    in_doubt(&outcome, &["flow is ", "mL/s (times 1/16.7)"]);
    let outcome = otherwise(lpm, &[], |us, flow, pressure| [us, flow / 1_000.0, pressure]);
    in_doubt(&outcome, &["flow is ", "L/s (times 60)"]);
    let lps = "t_us,flow_l_per_s,paw_cmH2O\n";
    let outcome = otherwise(lps, &[], |us, flow, pressure| [us, flow * 0.06, pressure]);
    in_doubt(&outcome, &["flow is ", "L/min (times 1/60)"]);
}

#[test]
fn too_few_samples_a_second_are_named() {
    // Of 100 a second every fourth are 25, every second 50: the least that the monitor hears.
    let plain = |us, flow, pressure| [us, flow, pressure];
    in_doubt(&each(4, HEADER, &[], plain), &["25 samples a second are too few"]);
    assert!(!each(2, HEADER, &[], plain).stderr.contains("in doubt"));
}

#[test]
fn a_time_in_another_unit_is_named() {
    let outcome = otherwise(HEADER, &[], |us, flow, pressure| [us / 1e3, flow, pressure]);
    in_doubt(&outcome, &["samples are 0.010 ms apart (100000 a second)", "ms (times 1000)"]);
    let ms = "t_ms,flow_ml_per_s,paw_cmH2O\n";
    let outcome = otherwise(ms, &[], |us, flow, pressure| [us, flow, pressure]);
    in_doubt(&outcome, &["samples are 10000.000 ms apart (0.100 a second)", "us (times 1/1000)"]);
    let outcome = otherwise(ms, &[], |us, flow, pressure| [us / 1e6, flow, pressure]);
    in_doubt(&outcome, &["samples are 0.010 ms apart (100000 a second)", "s (times 1000)"]);
}

#[test]
fn samples_too_far_apart_are_named_wherever_they_begin() {
    // Two minutes at 100 Hz, eight at 25: 12,000 samples each. Three blocks are 12,288 steps, 288 of them slow; the next
    // step ends at 120 s + 289 x 0.04 s = 131.6 s. 12,288 x 0.01 s are 122.9 s, 11,711 x 0.04 s are 468.4 s.
    let part =
        |text: String, nth| text.lines().step_by(nth).fold(String::new(), |t, l| t + l + "\n");
    let text = HEADER.to_owned() + &part(wave(0, 120), 1) + &part(wave(120, 480), 4);
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("in.csv");
    fs::write(&path, text).unwrap();
    let outcome = replay(&[path.to_str().unwrap(), "--weight-g", "1500"]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    in_doubt(
        &outcome,
        &["from 0:02:11 on, for 7.8 min of 9.9 min, 25 samples a second came: too few: from 50 on"],
    );
}
