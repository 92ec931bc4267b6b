//! Months of wear: a row of simulated hours, with wraps of the tick, faults and changed settings.
//!
//! The same quiet stretch is repeated, so that every window, counter and sum can be held against
//! what one stretch gives. `SOAK=8760` runs a year of hours at 100 Hz (with `--release`); the
//! usual run takes a day. Memory cannot
//! grow: neither monitor nor journal has a heap, and their sizes are those of `tests/api.rs`.

use std::time::Instant;
use tidevane::alarm::Condition;
use tidevane::monitor::{BreathReport, EventKind, Journal, Monitor, Settings};
use tidevane::quantity::{Flow, Pressure, Rate, Tick};
use tidevane::signal::{Reading, Sample};
use tidevane::trigger::Threshold;
use tidevane_sim::{LeakSettings, Scenario, Schedule, Simulator};
use tidevane_support::simulated::reading;

const HERTZ: u32 = 100;
const HOUR_US: u32 = 3_600_000_000;
/// The stretch that is repeated: five minutes of breathing.
const STRETCH: u32 = 300 * HERTZ;
const STRETCHES: u32 = 12;

/// Five minutes of a simulated infant.
fn stretch() -> Vec<Reading> {
    let scenario = Scenario {
        period_us: 1_000_000 / HERTZ,
        leak: LeakSettings { size: Schedule::constant(0.8), ..LeakSettings::default() },
        ..Scenario::default()
    };
    let mut simulator = Simulator::new(&scenario).unwrap();
    let mut next = || simulator.step().sample.map(|s| reading(&s));
    (0..STRETCH).map(|_| next().unwrap()).collect()
}

fn settings(rate: i16) -> Settings {
    Settings::builder()
        .threshold(Threshold::new(Flow::from_milli(3_500).value).unwrap())
        .set_rate(Rate::from_int(rate))
        .build()
        .unwrap()
}

#[derive(Debug, Default)]
struct Seen {
    breaths: u32,
    trusted: u32,
    gaps: u32,
    cuts: u32,
    stuck: u32,
    steps: u32,
    missed: u32,
    double: u32,
    alarms: i64,
    last: Option<BreathReport>,
}

struct Soak {
    monitor: Monitor,
    journal: Journal<64>,
    kept: u32,
    /// From when on a line of its kind is kept again.
    swarms: std::collections::BTreeMap<&'static str, u64>,
    tick: u32,
    seen: Seen,
}

impl Soak {
    fn take(&mut self, report: &tidevane::monitor::Report) {
        self.journal.take(report);
        for event in &report.events {
            match event.what {
                EventKind::Gap { cut: true, .. } => self.seen.cuts += 1,
                EventKind::Gap { .. } => self.seen.gaps += 1,
                EventKind::Stuck => self.seen.stuck += 1,
                EventKind::WeanStep(_) => self.seen.steps += 1,
                EventKind::MissedEffort(_) => self.seen.missed += 1,
                EventKind::DoubleTrigger => self.seen.double += 1,
                EventKind::Alarm(alarm) => {
                    let on = alarm.change == tidevane::alarm::Change::On;
                    self.seen.alarms += if on { 1 } else { -1 };
                }
                _ => {}
            }
            self.kept += u32::from(match event.what {
                EventKind::Stuck
                | EventKind::Clipped
                | EventKind::MissedEffort(_)
                | EventKind::ReverseTrigger(_)
                | EventKind::DoubleTrigger => false,
                // What comes in swarms makes one line a minute.
                EventKind::Gap { .. } | EventKind::Refused(_) | EventKind::LimitReached(_) => {
                    let last = self.swarms.entry(event.what.name()).or_default();
                    let is_new = event.at.to_us() >= *last;
                    if is_new {
                        *last = event.at.to_us() + 60_000_000;
                    }
                    is_new
                }
                _ => true,
            });
        }
        if let Some(closed) = report.breath {
            self.seen.breaths += 1;
            self.seen.trusted += u32::from(closed.breath.is_trusted());
            self.seen.last = Some(closed);
        }
    }

    fn push(&mut self, flow: Flow, pressure: Pressure) {
        self.tick = self.tick.wrapping_add(1_000_000 / HERTZ);
        let report = self.monitor.push(Sample { tick: Tick::from_us(self.tick), flow, pressure });
        self.take(&report);
    }
}

/// An hour: twelve times the stretch, after each of the first four a fault of another kind.
fn hour(soak: &mut Soak, stretch: &[Reading], n: u32) {
    for i in 0..STRETCHES {
        for reading in stretch {
            soak.push(reading.flow, reading.pressure);
        }
        match i {
            // A quarter of a second is missing; two seconds are missing.
            0 => soak.tick = soak.tick.wrapping_add(250_000),
            1 => soak.tick = soak.tick.wrapping_add(2_000_000),
            // Six seconds of a sensor that stands still.
            2 => (0..6 * HERTZ).for_each(|_| soak.push(Flow::from_int(7), Pressure::from_int(5))),
            // A wild reading, and one that is known to be lost.
            3 => {
                soak.push(Flow::MAX, Pressure::from_bits(i32::MIN));
                let report = soak.monitor.lost();
                soak.take(&report);
            }
            _ => {}
        }
    }
    let at = soak.seen.last.map(|closed| closed.breath.end).unwrap_or_default();
    let report = soak.monitor.settings_changed(at, settings(30 + i16::try_from(n % 3).unwrap()));
    soak.take(&report);
}

#[test]
fn nothing_drifts_and_every_counter_is_right() {
    let hours: u32 = std::env::var("SOAK").map_or(24, |n| n.parse().unwrap());
    let stretch = stretch();
    let mut soak = Soak {
        monitor: Monitor::new(settings(30)),
        journal: Journal::new(),
        kept: 0,
        swarms: std::collections::BTreeMap::new(),
        tick: 0_u32.wrapping_sub(HOUR_US / 100),
        seen: Seen::default(),
    };
    let begin = Instant::now();
    let mut settled: Option<(BreathReport, u32, u32)> = None;
    for n in 0..hours {
        let before = (soak.seen.breaths, soak.seen.trusted);
        hour(&mut soak, &stretch, n);
        let last = soak.seen.last.unwrap();
        let counted = (soak.seen.breaths - before.0, soak.seen.trusted - before.1);
        // From the second hour on every hour is as the one before, to the bit; moments aside.
        if let Some((first, breaths, trusted)) = settled {
            assert_eq!((counted.0, counted.1), (breaths, trusted), "hour {n}");
            same(&first, &last, n);
        } else if n > 0 {
            settled = Some((last, counted.0, counted.1));
        }
    }
    let seen = &soak.seen;
    println!("{hours} h in {:.1?}: {seen:?}", begin.elapsed());
    assert_eq!((seen.cuts, seen.stuck), (hours, hours), "two seconds cut, six are stuck");
    assert_eq!(seen.gaps, 2 * hours, "a quarter of a second, and a lost reading");
    assert_eq!(seen.steps, hours - 1, "every set rate that differs is a step");
    let s = soak.monitor.synchrony();
    assert_eq!(s.inflations() + s.own, seen.breaths);
    assert_eq!((s.missed + s.overlapped, s.double), (seen.missed, seen.double));
    let on = Condition::all().filter(|c| soak.monitor.alarms().is_on(*c)).count();
    assert_eq!(seen.alarms, i64::try_from(on).unwrap(), "on less off is what rings");
    let numbers: Vec<_> = soak.journal.entries().map(|entry| entry.number).collect();
    assert!(numbers.windows(2).all(|pair| pair[1] == pair[0] + 1));
    assert_eq!(soak.journal.lost() + u32::try_from(numbers.len()).unwrap(), soak.kept);
}

/// The same numbers as an hour ago.
fn same(then: &BreathReport, now: &BreathReport, hour: u32) {
    let (a, b) = (&then.breath, &now.breath);
    assert_eq!((a.inspiration, a.expiration), (b.inspiration, b.expiration), "hour {hour}");
    assert_eq!((a.peak, a.baseline, a.quiet), (b.peak, b.baseline, b.quiet), "hour {hour}");
    assert_eq!(then.leak, now.leak, "hour {hour}");
    let close = |x: Option<i32>, y: Option<i32>| match (x, y) {
        (Some(x), Some(y)) => x.abs_diff(y) <= 16,
        (x, y) => x == y,
    };
    let share = |report: &BreathReport| report.leak_window.share().map(|s| s.to_bits());
    assert!(close(share(then), share(now)), "hour {hour}");
    let rate = |report: &BreathReport| report.rate.map(|rate| rate.to_bits());
    assert!(close(rate(then), rate(now)), "hour {hour}");
}
