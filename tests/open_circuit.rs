//! An open circuit is told in time, teaches nothing, and breaths are found again behind it.

use tidevane::alarm::{Change, Condition};
use tidevane::breath::Kind;
use tidevane::leak::LungVolume;
use tidevane::monitor::{BreathReport, EventKind, Monitor, Settings};
use tidevane::quantity::{Flow, Instant, Mass, Pressure};
use tidevane::signal::{Flags, Reading};

/// The circuit is opened after so many seconds, and closed again.
const OPENED: f64 = 30.0;
const CLOSED: f64 = 42.0;

/// A breath a second: half a sine of 0.3 s in (26.18 mL/s at most: 5 mL) under 15 cmH2O, one of 0.3 s out at
/// 5, and 0.4 s quiet.
fn breathing(t: f64) -> (f64, f64) {
    let x = t % 1.0;
    let sine = 26.18 * (std::f64::consts::PI * x / 0.3).sin();
    if x < 0.6 { (sine, if x < 0.3 { 15.0 } else { 5.0 }) } else { (0.0, 5.0) }
}

struct Told {
    breaths: Vec<BreathReport>,
    /// When an open circuit was told, and when its alarm began and ended, in s.
    events: Vec<f64>,
    on: Vec<f64>,
    off: Vec<f64>,
}

/// A minute of breathing with another flow and pressure while the circuit is open.
fn told(open: impl Fn(f64) -> (f64, f64)) -> Told {
    let settings = Settings::builder().weight(Mass::from_grams(1_000).unwrap()).build().unwrap();
    let (mut monitor, mut out) =
        (Monitor::new(settings), Told { breaths: vec![], events: vec![], on: vec![], off: vec![] });
    for i in 0..6_000_u64 {
        let t = i as f64 / 100.0;
        let (flow, pressure) = if (OPENED..CLOSED).contains(&t) { open(t) } else { breathing(t) };
        // No sensor repeats itself to the last bit.
        let bits = |x: f64, more: u64| ((x + 0.01 * more as f64) * 65_536.0) as i32;
        let reading = Reading {
            flow: Flow::from_bits(bits(flow, i % 3)),
            pressure: Pressure::from_bits(bits(pressure, i % 2)),
        };
        let report = monitor.push_at(Instant::from_us(i * 10_000), reading);
        out.breaths.extend(report.breath);
        for event in &report.events {
            match event.what {
                EventKind::OpenCircuit => out.events.push(t),
                EventKind::Alarm(alarm) if alarm.condition == Condition::Disconnection => {
                    let to = if alarm.change == Change::On { &mut out.on } else { &mut out.off };
                    to.push(t);
                }
                _ => {}
            }
        }
    }
    out
}

fn float(bits: i32) -> f64 {
    f64::from(bits) / 65_536.0
}

impl Told {
    /// Breaths that began in a span of seconds, and how many of them are trusted.
    fn between(&self, from: f64, to: f64) -> (usize, usize) {
        let inside = || {
            self.breaths.iter().filter(|b| {
                let onset = b.breath.onset.to_us() as f64 / 1e6;
                (from..to).contains(&onset)
            })
        };
        (inside().count(), inside().filter(|b| b.breath.is_trusted()).count())
    }

    /// The open circuit is told in time, nothing that ends while it is open is trusted, and five seconds
    /// behind it every breath is found with the volumes of before.
    fn holds(&self, name: &str) {
        let first = *self.events.first().unwrap_or_else(|| panic!("{name}: never told"));
        assert!((OPENED..OPENED + 3.0).contains(&first), "{name}: told at {first}");
        let on = *self.on.first().unwrap_or_else(|| panic!("{name}: never rang"));
        assert!((OPENED..OPENED + 4.0).contains(&on), "{name}: rang at {on}");
        assert!(self.off.first().is_some_and(|off| *off < CLOSED + 3.0), "{name}: {:?}", self.off);
        let (_, trusted) = self.between(OPENED + 0.5, CLOSED - 1.5);
        assert_eq!(trusted, 0, "{name}: breaths of the open circuit are trusted");
        let (found, trusted) = self.between(CLOSED + 4.9, 58.5);
        // 12 whole breaths begin between 46.9 and 58.5.
        assert_eq!((found, trusted), (12, 12), "{name}: found and trusted again");
        let last = self.breaths.iter().rev().find(|b| b.breath.is_trusted()).unwrap();
        assert_eq!(last.breath.kind, Kind::Inflation, "{name}");
        let inspired = float(last.breath.inspired.value.to_bits());
        assert!((inspired - 5.0).abs() < 0.25, "{name}: {inspired} mL of 5");
        let LungVolume::Known { volume, .. } = last.lung else { panic!("{name}: {:?}", last.lung) };
        let volume = float(volume.to_bits());
        assert!((volume - 5.0).abs() < 0.5, "{name}: {volume} mL of 5 in the lung");
    }
}

#[test]
fn told_within_three_seconds_and_found_again_within_five() {
    for flow in [0.0, 8.0, 50.0, 70.0, 90.0] {
        told(|_| (flow, 0.6)).holds(&format!("{flow} mL/s at 0.6 cmH2O"));
        // The machine goes on: it cannot raise the pressure any more.
        let machine = |t: f64| if t % 1.0 < 0.3 { (flow + 15.0, 1.2) } else { (flow, 0.2) };
        told(machine).holds(&format!("{flow} mL/s, and inflations that reach 1.2 cmH2O"));
    }
    // The pressure is held up all the same.
    told(|_| (60.0, 5.0)).holds("60 mL/s at 5 cmH2O");
}

#[test]
fn suction_that_lets_nothing_back_is_told() {
    // Pressure is held, inflations go on at 80 a minute, and all gas leaves another way.
    let suction = |t: f64| if t % 0.75 < 0.3 { (30.0, 15.0) } else { (8.0, 5.0) };
    told(suction).holds("suction");
}

#[test]
fn breaths_on_top_of_a_large_leak_are_no_open_circuit() {
    let leaking = |t: f64| {
        let (flow, pressure) = breathing(t);
        (flow + 12.0, pressure)
    };
    let told = told(leaking);
    assert_eq!((told.events.len(), told.on.len()), (0, 0));
    // One breath a second for 12 s, but for what the step itself costs.
    assert!(told.between(OPENED + 5.0, CLOSED).0 >= 6, "{:?}", told.between(OPENED + 5.0, CLOSED));
}

#[test]
fn a_lower_pressure_that_breathes_is_no_open_circuit_for_long() {
    // From 5 to 1.5 cmH2O between breaths: each breath's gas comes back.
    let lower = |t: f64| {
        let (flow, pressure) = breathing(t);
        (flow, if pressure > 5.0 { 12.0 } else { 1.5 })
    };
    let told = told(lower);
    let (found, trusted) = told.between(OPENED + 3.0, CLOSED - 1.0);
    assert!(found >= 8 && trusted + 1 >= found, "{found} found, {trusted} trusted");
}

#[test]
fn what_was_open_is_flagged() {
    let told = told(|_| (70.0, 0.6));
    let flagged = told.breaths.iter().filter(|b| b.breath.flags.has(Flags::OPEN)).count();
    // The breath that it cuts into, and the one that its flow looks like.
    assert!((1..=3).contains(&flagged), "{flagged}");
}
