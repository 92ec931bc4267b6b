//! When a closed breath is told: with the eighth sample after its end was found, or with what comes first.

use tidevane::alarm::{Change, Condition};
use tidevane::breath::Kind;
use tidevane::monitor::{BreathReport, Breathing, Event, EventKind, Monitor, Report, Settings};
use tidevane::quantity::{Duration, Flow, Instant, Pressure, Volume};
use tidevane::signal::{Flags, Reading};
use tidevane::volume::Limiter;

/// 10 ms.
const EACH: u64 = 10_000;

/// An inflation of 0.3 s each second from 0.1 s on, out for 0.3 s: 30 mL/s at first, 16 over 5 cmH2O.
fn reading(n: u64) -> Reading {
    let (flow, pressure) = match n % 100 {
        n @ 10..40 => (40 - n as i16, 16),
        n @ 40..70 => (n as i16 - 70, 5),
        _ => (0, 5),
    };
    Reading { flow: Flow::from_int(flow), pressure: Pressure::from_int(pressure) }
}

fn at(n: u64) -> Instant {
    Instant::from_us(n * EACH)
}

/// Pushes readings of these numbers; the breaths told, each with the number it was told at.
fn push(monitor: &mut Monitor, numbers: std::ops::Range<u64>) -> Vec<(u64, BreathReport)> {
    let tell = |n| monitor.push_at(at(n), reading(n)).breath.map(|breath| (n, breath));
    numbers.filter_map(tell).collect()
}

/// A monitor that heard readings up to the one with which the end of its fifth breath was found, and the
/// number of that.
fn found() -> (Monitor, u64) {
    let mut monitor = Monitor::new(Settings::default());
    let told = push(&mut monitor.clone(), 0..600);
    let found = told[4].1.found.to_us() / EACH;
    assert_eq!(push(&mut monitor, 0..found + 1).len(), 4);
    (monitor, found)
}

fn all(mut next: impl FnMut() -> Report) -> Vec<Report> {
    std::iter::from_fn(|| Some(next()).filter(|report| !report.is_silent())).collect()
}

#[test]
fn it_is_told_with_the_eighth_sample_after_its_end_was_found() {
    let mut monitor = Monitor::new(Settings::default());
    let told = push(&mut monitor, 0..1_000);
    assert_eq!(told.len(), 9);
    for (n, breath) in told {
        assert_eq!(at(n), breath.found.after(Duration::from_millis(80)));
        // Confirmed as soon as the volume outgrows noise: three readings into the next inflation at most.
        let late = breath.found.since(breath.breath.end);
        assert!(breath.found > breath.breath.end && late <= Duration::from_millis(30), "{late}");
    }
}

#[test]
fn what_is_lost_counts_and_a_silence_does_not_wait() {
    let (mut monitor, _) = found();
    for lost in 1..=8 {
        assert_eq!(monitor.lost().breath.is_some(), lost == 8, "{lost} lost");
    }
    let (mut monitor, n) = found();
    // A timer beside the samples changes nothing; where they stay away it tells at once.
    let _ = push(&mut monitor, n + 1..n + 3);
    assert!(monitor.tick_at(at(n + 2)).breath.is_none());
    assert!(monitor.tick_at(at(n + 2).after(Duration::from_millis(99))).breath.is_none());
    let told = monitor.tick_at(at(n + 2).after(Duration::from_millis(100))).breath;
    assert_eq!(told.map(|breath| breath.found), Some(at(n)));
}

#[test]
fn the_end_of_a_recording_tells_both_breaths() {
    let (mut monitor, n) = found();
    let reports = all(|| monitor.finish());
    let ends: Vec<_> = reports.iter().map(|report| report.breath.unwrap().breath.end).collect();
    assert_eq!(ends.len(), 2);
    assert!(ends[0] < at(n) && ends[1] == at(n));
    let flags: Vec<_> = reports.iter().map(|report| report.breath.unwrap().breath.flags).collect();
    assert_eq!(flags, [Flags::NONE, Flags::CUT]);
}

#[test]
fn a_long_silence_tells_the_breath_before_and_what_it_cut_later() {
    let (mut monitor, n) = found();
    let _ = push(&mut monitor, n + 1..n + 3);
    let behind = n + 503;
    // Seven readings are not believed, for they jump ahead; the breath goes on with them.
    let mut reports: Vec<_> =
        (behind..behind + 7).map(|n| monitor.push_at(at(n), reading(n))).collect();
    assert_eq!(reports.iter().filter_map(|report| report.breath).count(), 1);
    reports = (behind + 7..behind + 16).map(|n| monitor.push_at(at(n), reading(n))).collect();
    assert!(matches!(reports[0].events[0].what, EventKind::Gap { cut: true, .. }));
    let told: Vec<_> = reports.iter().filter_map(|report| report.breath).collect();
    assert!(reports[8].breath.is_some() && told.len() == 1);
    assert!(told[0].breath.flags.has(Flags::CUT) && told[0].breath.end == at(n + 2));
}

#[test]
fn a_change_of_settings_tells_it_first() {
    let (mut monitor, n) = found();
    let settings = Settings::builder().set_rate(tidevane::quantity::Rate::from_int(60));
    let report = monitor.settings_changed(at(n), settings.build().unwrap());
    let told = report.breath.unwrap();
    assert_eq!(told.found, at(n));
    // Judged by what was set while it was drawn: without a set rate no timer was due.
    assert_eq!(told.breath.kind, Kind::Inflation);
    let evidence = told.initiation.and_then(|initiation| initiation.evidence);
    assert!(evidence.is_some_and(|evidence| evidence.on_time.is_none()), "{evidence:?}");
    assert!(matches!(report.events.last().unwrap().what, EventKind::WeanStep(_)));
}

#[test]
fn breaths_shorter_than_that_are_told_with_the_next() {
    // 12 readings a second, 50 breaths of 0.6 s: seven readings each.
    let mut monitor = Monitor::new(Settings::default());
    let step = |n: u64| Instant::from_us(n * 83_333);
    let wave = |n: u64| {
        let (flow, pressure) =
            [(40, 16), (30, 16), (10, 16), (-45, 5), (-30, 5), (-4, 5), (-1, 5)][(n % 7) as usize];
        Reading { flow: Flow::from_int(flow), pressure: Pressure::from_int(pressure) }
    };
    let mut told = Vec::new();
    for n in 0..350 {
        told.extend(monitor.push_at(step(n), wave(n)).breath.map(|breath| (step(n), breath)));
    }
    told.extend(all(|| monitor.finish()).iter().map(|report| (step(350), report.breath.unwrap())));
    assert!((48..=50).contains(&told.len()), "{}", told.len());
    for pair in told.windows(2) {
        let ([(at, a), (_, b)], eight) = ([pair[0], pair[1]], Duration::from_us(8 * 83_333));
        assert_eq!(a.breath.end, b.breath.onset, "one was lost");
        assert!(at.since(a.found) < eight || at == step(350), "{a:?}");
        assert!(at == b.found || at == step(350));
    }
}

#[test]
fn the_volume_limit_does_not_wait() {
    let limiter = Limiter::new(Volume::from_milli(1_000).value, Duration::from_millis(1)).unwrap();
    let settings = Settings::builder().limiter(limiter).build().unwrap();
    let mut monitor = Monitor::new(settings);
    let mut limited = Vec::new();
    for n in 0..1_000 {
        let report = monitor.push_at(at(n), reading(n));
        let is_limit = |event: &&Event| matches!(event.what, EventKind::LimitReached(_));
        limited.extend(report.events.iter().find(is_limit).map(|event| event.at));
    }
    // 30 mL/s from 0.1 s on less 1 mL/s each 10 ms: 1 mL within 0.04 s of each inflation's first reading,
    // half of the time after which the breath before is told.
    assert_eq!(limited.len(), 10);
    for (breath, limit) in limited.iter().enumerate() {
        let begun = at(breath as u64 * 100 + 10);
        assert!(limit.since(begun) <= Duration::from_millis(50), "{limit:?}");
    }
}

fn rings(report: &Report, condition: Condition) -> bool {
    report.events.iter().any(|event| match event.what {
        EventKind::Alarm(alarm) => alarm.condition == condition && alarm.change == Change::On,
        _ => false,
    })
}

/// A silence cuts the breath under way; that it is worked out later keeps no alarm from ringing.
#[test]
fn a_silence_without_a_timer_rings_when_it_ends() {
    let mut monitor = Monitor::new(Settings::default());
    let _ = push(&mut monitor, 0..6_025);
    // 15 s, and readings that are believed once eight stand in order.
    let mut reports: Vec<_> = (7_525..7_545).map(|n| monitor.push_at(at(n), reading(n))).collect();
    reports.retain(|report| !report.is_silent());
    for condition in [Condition::NoInput, Condition::SensorFault] {
        assert!(reports.iter().any(|report| rings(report, condition)), "{condition}: {reports:?}");
    }
}

/// 60 s of breaths, then a minute of a flow that swings so often a second, read each so many µs: none is a breath
/// of anyone's, and each ends before the one before was told.
fn rings_in_swings(hertz: f64, each: u64) {
    let mut monitor = Monitor::new(Settings::default());
    let mut rang = false;
    for n in 0..120_000_000 / each {
        let us = n * each;
        let swing = (us as f64 / 1e6 * hertz * core::f64::consts::TAU).sin();
        let reading = if us < 60_000_000 {
            reading(us / EACH)
        } else {
            Reading {
                flow: Flow::from_milli((swing * 60_000.0) as i32).value,
                pressure: Pressure::from_milli((swing * 4_000.0) as i32 + 10_000).value,
            }
        };
        let at = Instant::from_us(us);
        for report in [monitor.push_at(at, reading), monitor.tick_at(at)] {
            rang |= rings(&report, Condition::Apnoea);
        }
    }
    assert!(rang && monitor.breathing() == Breathing::Apnoea, "{:?}", monitor.breathing());
}

#[test]
fn swings_too_fast_to_be_breaths_do_not_keep_the_apnoea_alarm_from_ringing() {
    rings_in_swings(7.0, 20_000);
    rings_in_swings(15.0, 10_000);
}

#[test]
fn short_runs_of_readings_do_not_keep_the_apnoea_alarm_from_ringing() {
    let mut monitor = Monitor::new(Settings::default());
    let _ = push(&mut monitor, 0..6_000);
    let mut rang = false;
    // Nine readings each 1.59 s.
    for (run, n) in (0..40).flat_map(|run| (0..9).map(move |n| (run, n))) {
        let (flow, pressure) = if n < 4 { (-20, 5) } else { (30, 15) };
        let (flow, pressure) = (Flow::from_int(flow), Pressure::from_int(pressure));
        let report = monitor.push_at(at(6_000 + run * 159 + n), Reading { flow, pressure });
        rang |= rings(&report, Condition::Apnoea);
    }
    assert!(rang);
}

#[test]
fn breaths_told_with_the_next_are_judged_for_load() {
    let mut monitor = Monitor::new(Settings::default());
    let (mut judged, wave) =
        (0, [(40, 16), (30, 16), (10, 16), (-45, 5), (-30, 5), (-4, 5), (-1, 5)]);
    for n in 0..12 * 60 * 60_u64 {
        let (flow, pressure) = wave[(n % 7) as usize];
        let (flow, pressure) = (Flow::from_int(flow), Pressure::from_int(pressure));
        let report = monitor.push_at(Instant::from_us(n * 83_333), Reading { flow, pressure });
        let loads = report.events.iter().filter(|e| matches!(e.what, EventKind::Load(_)));
        judged += loads.count();
    }
    assert!(judged > 0, "{:?}", monitor.verdict());
}

#[test]
fn a_recording_that_goes_on_after_its_end_was_told_once_loses_nothing() {
    let (mut monitor, n) = found();
    let mut told: Vec<_> = monitor.finish().breath.into_iter().collect();
    told.extend(push(&mut monitor, n + 1..n + 600).into_iter().map(|(_, breath)| breath));
    assert!(told.len() >= 6);
    for pair in told.windows(2) {
        assert_eq!(pair[0].breath.end, pair[1].breath.onset);
    }
}
