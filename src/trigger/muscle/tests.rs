use super::block::Blocks;
use super::*;
use crate::breath::{Breath, Kind, Phase, Totals, TriggerPhase};
use crate::quantity::{Duration, Flow, Instant, Pressure, Saturated, Volume};
use crate::signal::{End, Flags, Interval, Reading};
use std::vec::Vec;

fn milli(x: f64) -> i32 {
    (x * 1e3).round() as i32
}

/// Intervals of 5 ms through a flow and a pressure by time in s.
fn intervals(seconds: f64, at: impl Fn(f64) -> (f64, f64)) -> Vec<Interval> {
    let end = |t: f64| {
        let (flow, pressure) = at(t);
        End::from(Reading {
            flow: Flow::from_milli(milli(flow)).value,
            pressure: Pressure::from_milli(milli(pressure)).value,
        })
    };
    (1..=(seconds * 200.0) as u64)
        .map(|i| {
            let t = i as f64 / 200.0;
            let (at, span) = (Instant::from_us(i * 5_000), Duration::from_millis(5));
            Interval { at, span, from: end(t - 0.005), to: end(t), flags: Flags::NONE }
        })
        .collect()
}

#[test]
fn a_block_holds_means_the_change_and_the_volume_since() {
    // 20 mL/s and 8 cmH2O for 20 ms, then 30 mL/s and 10 cmH2O: in Q12 20, 10 more, 0.6 mL more.
    let (mut blocks, mut totals) = (Blocks::default(), Totals::default());
    for interval in intervals(0.06, |t| if t <= 0.0401 { (20.0, 8.0) } else { (30.0, 10.0) }) {
        totals.add(&interval);
        let _ = blocks.step(&interval, &totals);
    }
    let (before, latest) = blocks.latest().unwrap();
    let q12 = |x: f64| (x * 4_096.0) as i32;
    let [flow, change, volume, pressure] = latest.after(&before);
    assert_eq!((flow, change, pressure), (q12(30.0), q12(10.0), q12(10.0)));
    // The ramp from 20 to 30 within 5 ms costs a half of it: 20 × 30 − 5 × 5 = 575 µL after the second block.
    let moved = f64::from(volume - before.volume) / 4_096.0;
    assert!((moved - 0.575).abs() < 2e-3, "{moved}");
    // Counted afresh the next block holds what it moved alone: the last one stands at nothing.
    blocks.count_afresh();
    assert_eq!(blocks.latest().unwrap().1.volume, 0);
    let more = intervals(0.08, |_| (30.0, 10.0)).split_off(12);
    for interval in more {
        totals.add(&interval);
        let _ = blocks.step(&interval, &totals);
    }
    let moved = f64::from(blocks.latest().unwrap().1.volume) / 4_096.0;
    assert!((moved - 0.6).abs() < 2e-3, "{moved}");
}

/// What one breath showed: how far the muscle pressure rose as it began, and efforts in and under it.
#[derive(Debug, Default)]
struct Seen {
    pull: Option<f64>,
    efforts: Vec<Effort>,
}

/// Breaths of a second of a lung of R 0.1 cmH2O·s/mL and C 0.5 mL/cmH2O: 10 over 5 cmH2O for 0.4 s from
/// 0.3 s on, with a muscle pressure by breath and time from the rise on (s), set off by the infant or not.
fn breaths(
    count: u32,
    by_infant: impl Fn(u32) -> bool,
    muscle: impl Fn(u32, f64) -> f64,
) -> Vec<Seen> {
    let (watch, mut state) = (EffortWatch::default(), EffortState::default());
    let (mut volume, mut pressure, mut totals) = (0.0_f64, 5.0_f64, Totals::default());
    let (mut before, mut out) = (End::default(), Vec::new());
    for n in 0..count {
        let mut seen = Seen::default();
        let begun = f64::from(n);
        for i in 1..=200_u32 {
            let since = f64::from(i) / 200.0 - 0.3;
            let inflating = (0.0..0.4).contains(&since);
            let mut flow = 0.0;
            for _ in 0..5 {
                pressure += ((if inflating { 15.0 } else { 5.0 }) - pressure) / 15.0;
                flow = (pressure - 5.0 + muscle(n, since) - volume / 0.5) / 0.1;
                volume += flow * 1e-3;
            }
            let to = End::from(Reading {
                flow: Flow::from_milli(milli(flow)).value,
                pressure: Pressure::from_milli(milli(pressure)).value,
            });
            let us = |s: f64| Instant::from_us(((begun + s + 10.0) * 1e6) as u64);
            let (at, span) = (us(since + 0.3), Duration::from_millis(5));
            let interval = Interval { at, span, from: before, to, flags: Flags::NONE };
            totals.add(&interval);
            before = to;
            let around = EffortContext {
                phase: if !(-0.06..0.4).contains(&since) {
                    Phase::Expiration
                } else {
                    Phase::Inspiration
                },
                risen: (since >= 0.02).then_some(us(0.3)),
                turned: us(0.7),
                baseline: Pressure::from_int(5),
                peak: Pressure::from_int(15),
                flow: to.lung,
                usual_flow: Flow::from_int(80),
            };
            seen.efforts.extend(watch.step(&mut state, &interval, &totals, || around));
        }
        let mut ended = SeenEffort::default();
        watch.end_breath(&mut state, &mut ended);
        seen.pull = ended.pull.map(|pull| pull.size.to_f64());
        let breath = Breath {
            kind: Kind::Inflation,
            inspired: Saturated::exact(Volume::from_int(5)),
            peak: Pressure::from_int(15),
            baseline: Pressure::from_int(5),
            lead: TriggerPhase::default(),
            ..Breath::plain()
        };
        seen.efforts.extend(watch.close(&mut state, &mut ended, &breath, by_infant(n)));
        watch.learn(&mut state, &mut ended, &breath);
        watch.learn_lag(&mut state, &breath);
        out.push(seen);
    }
    out
}

/// Half a sine of muscle pressure: from when, how long (s), how strong (cmH2O).
fn half_sine(from: f64, lasting: f64, size: f64, t: f64) -> f64 {
    let x = (t - from) / lasting;
    if (0.0..1.0).contains(&x) { size * (x * core::f64::consts::PI).sin() } else { 0.0 }
}

#[test]
fn a_passive_lung_makes_no_effort_and_no_pull() {
    let seen = breaths(24, |_| false, |_, _| 0.0);
    assert!(seen[3].pull.is_none(), "three inflations are too few: {:?}", seen[3]);
    for (n, breath) in seen.iter().enumerate().skip(8) {
        assert!(breath.pull.is_some_and(|pull| pull < 0.6), "breath {n}: {breath:?}");
        assert_eq!(breath.efforts.len(), 0, "breath {n}: {breath:?}");
    }
}

#[test]
fn an_effort_that_begins_with_the_rise_is_a_pull() {
    // In the 20th: 5 cmH2O over 0.3 s from 50 ms before the rise on: the top after 100 ms is seen as a mean of
    // 60 ms, some 4.8.
    let pulled = |n: u32, t: f64| if n == 20 { half_sine(-0.05, 0.3, 5.0, t) } else { 0.0 };
    let pull = breaths(21, |n| n == 20, pulled)[20].pull.unwrap();
    assert!((3.5..5.5).contains(&pull), "{pull} of 5 cmH2O");
}

#[test]
fn efforts_in_and_under_inflations_are_told_where_they_are() {
    // In expiration, 0.48 s after the rise; under a timed inflation, from 0.1 s on; and a second one under an
    // inflation that the infant set off with a first.
    let effort = |n: u32, t: f64| match n {
        20 => half_sine(0.48, 0.16, 4.0, t),
        22 => half_sine(0.1, 0.2, 4.0, t),
        24 => half_sine(-0.06, 0.16, 4.0, t) + half_sine(0.18, 0.18, 4.0, t),
        26 => half_sine(-0.06, 0.16, 4.0, t),
        _ => 0.0,
    };
    let seen = breaths(28, |n| n == 24 || n == 26, effort);
    let during = |n: usize| seen[n].efforts.iter().map(|e| e.during).collect::<Vec<_>>();
    assert_eq!(during(20), [Phase::Expiration], "{:?}", seen[20]);
    assert_eq!(during(22), [Phase::Inspiration], "{:?}", seen[22]);
    assert_eq!(during(24), [Phase::Inspiration], "{:?}", seen[24]);
    // The one that set it off is no missed one.
    assert_eq!(during(26), [], "{:?}", seen[26]);
    let after = seen[22].efforts[0].after.unwrap();
    assert!((Duration::from_millis(100)..Duration::from_millis(220)).contains(&after), "{after}");
}

#[test]
fn settings_are_checked() {
    let new = |milli| EffortWatch::new(Pressure::from_milli(milli).value);
    assert!(new(499).is_err() && new(20_001).is_err());
    assert!(new(500).is_ok() && new(20_000).is_ok());
}
