//! Apnoea through the whole monitor: what rings it, what ends it, and what must not.

use tidevane::alarm::{AlarmValue, Alarms, Apnoea, Change, Condition};
use tidevane::monitor::{EventKind, Monitor, Report, Settings};
use tidevane::quantity::{Duration, Flow, Instant, Mass, Pressure};
use tidevane::signal::{Flags, Reading};

/// A breath a second at 100 Hz: half a sine of 9 mL in, and `out` times that out; 0.4 s of rest.
fn breathing(n: u64, out: f64) -> Reading {
    let t = (n % 100) as f64 / 100.0;
    let wave = |t: f64| 47.0 * (t / 0.3 * std::f64::consts::PI).sin();
    let flow = match t {
        t if t < 0.3 => wave(t),
        t if t < 0.6 => -out * wave(t - 0.3),
        _ => (n % 3) as f64 * 0.1,
    };
    reading(flow, 5.0 + (n % 2) as f64 * 0.1)
}

fn reading(flow: f64, pressure: f64) -> Reading {
    let bits = |x: f64| (x * 65_536.0) as i32;
    Reading { flow: Flow::from_bits(bits(flow)), pressure: Pressure::from_bits(bits(pressure)) }
}

/// Changes of the apnoea alarm that a report tells, with the pause that goes with each.
fn apnoea(report: &Report) -> Vec<(Change, Option<AlarmValue>)> {
    let told = |what: &EventKind| match what {
        EventKind::Alarm(alarm) if alarm.condition == Condition::Apnoea => {
            Some((alarm.change, alarm.value))
        }
        _ => None,
    };
    report.events.iter().filter_map(|event| told(&event.what)).collect()
}

#[test]
fn breaths_of_a_sensor_that_has_drifted_end_an_apnoea_all_the_same() {
    // Inflations of 16 over 5 cmH2O once a second; from 30 s on every reading is 4 mL/s too high, for
    // two minutes: every breath is flagged, and every one is a breath.
    let mut monitor = Monitor::new(Settings::default());
    let mut flagged = 0;
    for n in 0..15_000_u64 {
        let phase = (n % 100) as f64;
        let (flow, pressure) = match phase {
            p if p < 40.0 => (44.0 - p, 16.0),
            p if p < 70.0 => (26.0 - p, 5.0),
            p => (p % 2.0, 5.0),
        };
        let offset = if n >= 3_000 { 4.0 } else { 0.0 };
        let report =
            monitor.push_at(Instant::from_us(n * 10_000), reading(flow + offset, pressure));
        assert_eq!(apnoea(&report), [], "at {n}");
        flagged += u32::from(report.breath.is_some_and(|b| b.breath.flags.has(Flags::ZERO_DRIFT)));
    }
    // Of 120 breaths, but for the first few; twenty without a break would ring.
    assert!(flagged > 80, "{flagged}");
}

#[test]
fn a_heart_that_moves_the_flow_ends_no_apnoea_of_an_infant_whose_weight_is_known() {
    // Half a minute of breaths of 4.5 mL, then 40 s of 120 beats a minute of 4.5 mL/s: 4.5 ÷ (2 pi) mL a beat, 0.7 mL in and out,
    // where a quarter of 3.28 mL/kg are 0.82.
    let rang = |grams: Option<u32>, peak: f64| {
        let weight = grams.map(|grams| Mass::from_grams(grams).unwrap());
        let mut monitor = Monitor::new(Settings::builder().weight(weight).build().unwrap());
        let mut told = Vec::new();
        for n in 0..7_000_u64 {
            let beat = peak * (n as f64 / 50.0 * std::f64::consts::TAU).sin();
            let now = if n < 3_000 {
                let Reading { flow, pressure } = breathing(n, 1.0);
                Reading { flow: Flow::from_bits(flow.to_bits() / 2), pressure }
            } else {
                reading(beat, 5.0 + (n % 2) as f64 * 0.1)
            };
            told.extend(apnoea(&monitor.push_at(Instant::from_us(n * 10_000), now)));
        }
        told.into_iter().map(|(change, _)| change).collect::<Vec<_>>()
    };
    assert_eq!(rang(Some(1_000), 4.5), [Change::On]);
    // Twice as much may be a breath, and of whose weight is not known anything may.
    assert_eq!(rang(Some(1_000), 9.0), []);
    assert_eq!(rang(None, 4.5), []);
}

#[test]
fn a_latching_apnoea_ends_when_it_was_seen_and_tells_the_whole_pause() {
    let latching = Apnoea::new(Duration::from_millis(20_000), true).unwrap();
    let alarms = Alarms { apnoea: latching, ..Alarms::default() };
    let mut monitor = Monitor::new(Settings::builder().alarms(alarms).build().unwrap());
    let mut told = Vec::new();
    for n in 0..9_000_u64 {
        // 30 s of breathing, 30 s of none, 30 s of breathing; seen at 80 s.
        let pause = (3_000..6_000).contains(&n);
        let still = reading((n % 3) as f64 * 0.1, 5.0 + (n % 2) as f64 * 0.1);
        if n == 8_000 {
            monitor.acknowledge();
        }
        let reading = if pause { still } else { breathing(n, 1.0) };
        let report = monitor.push_at(Instant::from_us(n * 10_000), reading);
        told.extend(apnoea(&report).into_iter().map(|(change, pause)| (n, change, pause)));
    }
    let [(on, Change::On, _), (off, Change::Off, pause)] = told[..] else { panic!("{told:?}") };
    // The last breath began at 29 s and the next at 60 s, which closes it.
    assert!((4_900..=5_000).contains(&on), "{told:?}");
    assert!((8_000..=8_200).contains(&off), "{told:?}");
    let Some(AlarmValue::Span(pause)) = pause else { panic!("{told:?}") };
    assert!(
        pause >= Duration::from_millis(30_000) && pause < Duration::from_millis(32_000),
        "{pause}"
    );
}
