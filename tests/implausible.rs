//! Numbers that cannot be are told, teach nothing and feed no figure; and what leaks in while all is
//! quiet makes no volume smaller.

use tidevane::alarm::{Change, Condition};
use tidevane::breath::{Breath, Implausible, Kind};
use tidevane::monitor::{BreathReport, EventKind, Monitor, Settings};
use tidevane::quantity::{Duration, Flow, Instant, Mass, Pressure, Share, Volume};
use tidevane::signal::{Flags, Reading};
use tidevane::trend::{LoadVerdict, NoVerdict};
use tidevane_support::recordings::breaths;
use tidevane_support::view::is_drawn;

/// A reading at a time in s.
type At = fn(f64) -> (f64, f64);

/// A breath a second: half a sine of 0.3 s in and one out, quiet for the rest; 5 mL.
fn usual(t: f64) -> (f64, f64) {
    let x = t % 1.0;
    // The mean of half a sine is 2 ÷ π of its peak: 26.18 × 0.6366 × 0.3 s = 5 mL.
    let sine = 26.18 * (std::f64::consts::PI * x / 0.3).sin();
    if x < 0.6 { (sine, if x < 0.3 { 15.0 } else { 5.0 }) } else { (0.0, 5.0) }
}

fn recording(seconds: u64, at: impl Fn(f64) -> (f64, f64)) -> Vec<(u64, Reading)> {
    let bits = |x: f64| (x * 65_536.0) as i32;
    (0..seconds * 100)
        .map(|i| {
            let (flow, pressure) = at(i as f64 / 100.0);
            // No sensor repeats itself to the last bit.
            let (flow, pressure) = (flow + 0.01 * (i % 3) as f64, pressure + 0.01 * (i % 2) as f64);
            let flow = Flow::from_bits(bits(flow));
            (i * 10_000, Reading { flow, pressure: Pressure::from_bits(bits(pressure)) })
        })
        .collect()
}

fn infant() -> Settings {
    Settings::builder().weight(Mass::from_grams(1_000).unwrap()).build().unwrap()
}

fn told(settings: Settings, seconds: u64, at: impl Fn(f64) -> (f64, f64)) -> Vec<BreathReport> {
    let mut seen = breaths(settings, &recording(seconds, at));
    // The end of the recording cuts the last.
    seen.retain(|closed| !closed.breath.flags.has(Flags::CUT));
    seen
}

fn float(volume: Volume) -> f64 {
    f64::from(volume.to_bits()) / 65_536.0
}

#[test]
fn a_slip_of_units_is_told_and_feeds_nothing() {
    let as_l_per_min: At = |t| (usual(t).0 * 60.0, usual(t).1);
    let too_small: At = |t| (usual(t).0 * 0.14, usual(t).1);
    let wrong_way: At = |t| (-usual(t).0, usual(t).1);
    let in_kpa: At = |t| (usual(t).0, usual(t).1 * 0.098_066_5);
    let line_off: At = |t| (usual(t).0, 0.3);
    for (name, at, why) in [
        ("mL/s sixty times too large", as_l_per_min, Implausible::TooLarge),
        ("nearly blocked, or a seventh of the unit", too_small, Implausible::TooSmall),
        ("the sensor the wrong way round", wrong_way, Implausible::Inverted),
        ("the pressure in kPa", in_kpa, Implausible::NoPressure),
        ("the pressure line off", line_off, Implausible::NoPressure),
    ] {
        let seen = told(infant(), 90, at);
        let late: Vec<_> = seen.iter().filter(|b| b.breath.onset.to_us() > 30_000_000).collect();
        assert!(late.len() > 40, "{name}: {}", late.len());
        for closed in late {
            assert_eq!(closed.implausible, Some(why), "{name}");
            assert!(closed.breath.flags.has(Flags::IMPLAUSIBLE), "{name}");
            assert!(!closed.breath.is_trusted() && !is_drawn(&closed.view()), "{name}");
        }
    }
    let seen = told(infant(), 90, usual);
    let implausible = seen.iter().filter(|closed| closed.implausible.is_some()).count();
    assert!(seen.len() > 80 && implausible == 0, "{implausible} of {}", seen.len());
}

#[test]
fn l_per_min_read_as_ml_per_s_is_no_breath_and_rings() {
    // 1 mL/s is 0.06 L/min: 26.18 × 0.06 = 1.57 at the peak. What makes a turn is 0.25 mL beyond 1 mL/s; here it is 0.06: for
    // 0.168 of 0.3 s flow is beyond, 0.23 mL, of which 1 × 0.168 is not.
    let at: At = |t| (usual(t).0 * 0.06, usual(t).1);
    let mut monitor = Monitor::new(infant());
    let mut events = Vec::new();
    for (us, reading) in recording(90, at) {
        let report = monitor.push_at(Instant::from_us(us), reading);
        assert_eq!(report.breath, None);
        events.extend(report.events);
    }
    // Nothing names the unit; 20 s after the first sample there is no breath.
    let [event] = &events[..] else { panic!("{events:?}") };
    let EventKind::Alarm(alarm) = &event.what else { panic!("{event:?}") };
    assert_eq!((alarm.condition, alarm.change), (Condition::Apnoea, Change::On));
    assert!((20_000_000..=20_500_000).contains(&event.at.to_us()), "{event:?}");
}

#[test]
fn high_frequency_ventilation_is_out_of_scope_and_said_so() {
    // 5 /s of 2 mL, pressure swinging by 6 cmH2O about 8.
    let oscillation: At = |t| {
        let sine = (10.0 * std::f64::consts::PI * t).sin();
        (2.0 * 5.0 * std::f64::consts::PI * sine, 8.0 + 3.0 * sine)
    };
    let seen = told(infant(), 30, oscillation);
    let last = seen.last().expect("swings are found");
    assert!(seen.len() > 100, "{}", seen.len());
    assert_eq!(last.implausible, Some(Implausible::TooFast));
}

#[test]
fn of_numbers_that_cannot_be_no_verdict_is_made() {
    let at: At = |t| (usual(t).0 * 60.0, usual(t).1);
    let mut monitor = Monitor::new(infant());
    let mut events = Vec::new();
    for (us, reading) in recording(480, at) {
        let report = monitor.push_at(Instant::from_us(us), reading);
        events.extend(report.events.iter().map(|event| event.what));
    }
    assert_eq!(monitor.verdict(), LoadVerdict::CannotTell(NoVerdict::Implausible));
    let said = events.iter().filter(|what| matches!(what, EventKind::Implausible(_))).count();
    assert_eq!(said, 1, "said once, not with every breath");
}

#[test]
fn an_open_circuit_is_one_breath_that_counts_for_nothing_and_breaths_are_found_after_it() {
    // 70 mL/s for 10 s at 30 s: 700 mL in.
    let at: At = |t| if (30.0..40.0).contains(&t) { (70.0, 0.3) } else { usual(t) };
    let seen = told(infant(), 70, at);
    let is_giant = |b: &Breath| float(b.inspired.value) > 90.0;
    assert!(seen.iter().any(|closed| is_giant(&closed.breath)));
    for closed in &seen {
        let open = closed.breath.flags.has(Flags::OPEN);
        assert_eq!(is_giant(&closed.breath), open, "{closed:?}");
        assert!(!open || !is_drawn(&closed.view()), "{closed:?}");
    }
    let after = seen.iter().filter(|b| b.breath.onset.to_us() > 45_000_000).count();
    assert!(after >= 23, "{after} of 25");
}

#[test]
fn what_leaks_in_through_a_pause_makes_no_volume_smaller() {
    // 0.7 mL/s leak at 5 cmH2O and 1.2 at 15; after ten breaths 8 s, after ten more 21 s of rest.
    let leaky = |t: f64| {
        let resting = (10.0..18.0).contains(&t) || (28.0..49.0).contains(&t);
        let t = if t < 28.0 { t } else { t - 1.0 };
        let (flow, pressure) = if resting { (0.0, 5.0) } else { usual(t) };
        (flow + 0.313 * pressure.sqrt(), pressure)
    };
    let (mut trusted, mut pauses) = (0, vec![]);
    for closed in told(infant(), 60, leaky).iter().filter(|b| b.breath.is_trusted()) {
        let (b, expired) = (&closed.breath, float(closed.breath.expired.value));
        // 5 mL less the leak from the turn to the onset, 0.7 × 0.7 s; before a pause, while it flows out.
        let paused = b.end.since(b.out_until) > Duration::from_millis(2_000);
        let want = if paused { 5.0 - 0.7 * 0.3 } else { 5.0 - 0.7 * 0.7 };
        assert!((expired - want).abs() < 0.05, "{expired}, not {want}: {b:?}");
        let share = closed.leak_window.share().unwrap();
        assert!(share < Share::from_percent(25), "{share}: {b:?}");
        trusted += 1;
        pauses.extend(paused.then(|| b.end.since(b.out_until).to_us() / 1_000_000));
    }
    // Ten breaths before each pause and behind the last: of these 30 the first two meet a leak not yet learned, and the end of
    // the recording cuts the last. What came out has by 0.6 s, so 0.4 s of rest and the pause follow: 8.4 and 21.4 s.
    assert_eq!((trusted, pauses), (28, vec![8, 21]));
}

#[test]
fn a_recording_that_starts_at_an_onset_or_in_an_inflation_calls_it_no_own_breath() {
    // The sine is quiet up to 0; the pressure is up at the first reading, or soon after.
    for late in [0.0, 0.02, 0.1] {
        let seen = told(Settings::default(), 5, |t| usual(t + late));
        assert!(seen.len() >= 4);
        for closed in &seen[..4] {
            assert_eq!(closed.breath.kind, Kind::Inflation, "{late}: {:?}", closed.breath);
        }
    }
}

#[test]
fn a_large_leak_at_rest_is_no_disconnection() {
    // A breath of 5 mL every 2 s, and 8 mL/s of leak at 5 cmH2O: 11 mL leak in while all is quiet, so by its
    // end nothing of a breath has come back. But up to 5 − 8 × 0.3 = 2.6 mL had.
    let leaky = |t: f64| {
        let (flow, pressure) = usual(t % 2.0);
        let (flow, pressure) = if t % 2.0 < 0.6 { (flow, pressure) } else { (0.0, 5.0) };
        (flow + 3.58 * pressure.sqrt(), pressure)
    };
    let mut monitor = Monitor::new(infant());
    let (mut late, mut rang) = (Vec::new(), Vec::new());
    for (us, reading) in recording(60, leaky) {
        let report = monitor.push_at(Instant::from_us(us), reading);
        rang.extend(report.events.iter().filter_map(|event| match event.what {
            EventKind::Alarm(alarm) => Some(alarm.condition),
            _ => None,
        }));
        late.extend(report.breath.filter(|closed| closed.breath.onset.to_us() > 20_000_000));
    }
    assert!(late.len() > 15, "{}", late.len());
    for closed in &late {
        let b = &closed.breath;
        assert_eq!(b.expired.value, Volume::ZERO, "{b:?}");
        assert!((2.3..3.0).contains(&float(b.most_out.value)), "{b:?}");
    }
    assert!(!rang.contains(&Condition::Disconnection), "{rang:?}");
}
