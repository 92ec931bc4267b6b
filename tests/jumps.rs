//! Jumps of compliance and resistance in simulated passive infants: told, dated, and not told where nothing
//! jumped.

use tidevane::mechanics::Jump;
use tidevane::monitor::{EventKind, Monitor, Settings};
use tidevane::quantity::{Mass, Rate};
use tidevane_sim::{EffortSettings, Scenario, Schedule, Simulator};
use tidevane_support::lung::ventilated;
use tidevane_support::scenario::drawn;
use tidevane_support::simulated::{at, reading};
use tidevane_support::units::float;

/// What was told of three minutes of timed inflations (40 a minute, 12 over 5 cmH2O) of a lung that changes
/// after 90 s, and when (s).
fn told(lung: impl Fn(f64) -> (f64, f64)) -> Vec<(f64, Jump)> {
    let settings = Settings::builder()
        .weight(Mass::from_grams(1_100).unwrap())
        .set_rate(Rate::from_int(40))
        .build()
        .unwrap();
    let mut monitor = Monitor::new(settings);
    let events = ventilated(&mut monitor, 180, 12.0, |t| {
        let (compliance, resistance) = lung(t);
        (compliance, resistance, 0.0)
    });
    let jumps = events.into_iter().filter_map(|(t, event)| match event.what {
        EventKind::LungChanged(jump) => Some((t, jump)),
        _ => None,
    });
    jumps.collect()
}

#[test]
fn surfactant_and_a_kinked_tube_are_told_and_dated() {
    // Compliance up by 30 %, resistance the same: told within half a minute, dated by the last breath before.
    let softer = told(|t| if t < 90.0 { (0.6, 0.09) } else { (0.78, 0.09) });
    let [(t, Jump::Compliance { since, before, after })] = softer[..] else { panic!("{softer:?}") };
    let since = since.to_us() as f64 / 1e6;
    assert!((90.0..121.0).contains(&t) && (85.0..91.6).contains(&since), "told {t}, since {since}");
    let ratio = float(after.to_bits()) / float(before.to_bits());
    assert!((ratio - 1.3).abs() < 0.05, "{ratio}");
    // Resistance doubles.
    let kinked = told(|t| if t < 90.0 { (0.6, 0.07) } else { (0.6, 0.14) });
    let [(t, Jump::Resistance { before, after, .. })] = kinked[..] else { panic!("{kinked:?}") };
    let ratio = float(after.to_bits()) / float(before.to_bits());
    assert!((90.0..121.0).contains(&t) && (ratio - 2.0).abs() < 0.2, "{t} {ratio}");
}

#[test]
fn a_steady_lung_and_a_slow_drift_jump_nowhere() {
    assert_eq!(told(|_| (0.6, 0.09)), []);
    // By a third over three minutes.
    assert_eq!(told(|t| (0.6 * (1.0 + t / 540.0), 0.09)), []);
}

#[test]
fn passive_infants_of_every_kind_raise_few_false_ones() {
    let (mut minutes, mut jumps) = (0.0, 0);
    for seed in (0..160).step_by(2) {
        let still = EffortSettings { rate: Schedule::constant(0.0), ..drawn(seed).scenario.effort };
        let scenario = Scenario { effort: still, ..drawn(seed).scenario };
        let mut monitor = Monitor::new(Settings::default());
        let mut simulator = Simulator::new(&scenario).unwrap();
        loop {
            let output = simulator.step();
            if output.at_us > 60_000_000 {
                break;
            }
            if let Some(sample) = output.sample {
                let report = monitor.push_at(at(&output), reading(&sample));
                let changed =
                    |e: &&tidevane::monitor::Event| matches!(e.what, EventKind::LungChanged(_));
                jumps += report.events.iter().filter(changed).count();
            }
        }
        minutes += 1.0;
    }
    println!("{jumps} false jumps in {minutes} minutes");
    assert!(f64::from(u32::try_from(jumps).unwrap()) <= 0.05 * minutes, "{jumps} in {minutes} min");
}
