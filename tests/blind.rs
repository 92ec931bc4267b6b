//! A check that is blind says so: whatever way the sensor fails, something rings within 10 s, and a
//! clock that is set back silences nothing.

use proptest::prelude::*;
use tidevane::alarm::{Alarms, Change, Condition};
use tidevane::monitor::{EventKind, Monitor, Report, Settings};
use tidevane::quantity::{Flow, Instant, Pressure, Tick};
use tidevane::signal::{Reading, Sample};
use tidevane::trend::{LoadVerdict, NoVerdict};

const STEP_US: u64 = 10_000;

/// A breath of 9 mL a second at 100 Hz.
fn breath(n: u64) -> Reading {
    let t = (n % 100) as f64 / 100.0;
    let flow = match t {
        t if t < 0.3 => 47.0 * (t / 0.3 * std::f64::consts::PI).sin(),
        t if t < 0.6 => -47.0 * ((t - 0.3) / 0.3 * std::f64::consts::PI).sin(),
        _ => (n % 3) as f64 * 0.1,
    };
    // The pressure moves at every other step, where only those are asked for too.
    reading(flow, 5.0 + (n / 2 % 2) as f64 * 0.1)
}

/// A rest: noise and no breath.
fn rest(n: u64) -> Reading {
    reading((n % 3) as f64 * 0.1, 5.0 + (n % 2) as f64 * 0.1)
}

fn reading(flow: f64, pressure: f64) -> Reading {
    let bits = |x: f64| (x * 65_536.0) as i32;
    Reading { flow: Flow::from_bits(bits(flow)), pressure: Pressure::from_bits(bits(pressure)) }
}

fn sample(us: u64, reading: Reading) -> Sample {
    let Reading { flow, pressure } = reading;
    Sample { tick: Tick::from_us(us as u32), flow, pressure }
}

/// A monitor and when each condition began and ended, in steps of 10 ms that really passed.
struct Watched {
    monitor: Monitor,
    told: Vec<(u64, Condition, Change)>,
}

impl Watched {
    /// After a minute of breathing.
    fn breathing() -> Self {
        let mut watched = Self { monitor: Monitor::new(Settings::default()), told: Vec::new() };
        for n in 0..6_000 {
            let report = watched.monitor.push(sample(n * STEP_US, breath(n)));
            watched.hear(n, &report);
        }
        assert_eq!(watched.told, []);
        watched
    }

    fn hear(&mut self, n: u64, report: &Report) {
        for event in &report.events {
            if let EventKind::Alarm(alarm) = &event.what {
                self.told.push((n, alarm.condition, alarm.change));
            }
        }
    }

    /// How long after a step a condition began, in seconds.
    fn began(&self, condition: Condition, from: u64) -> Option<f64> {
        let (n, ..) = self
            .told
            .iter()
            .find(|(n, c, change)| *n >= from && (*c, *change) == (condition, Change::On))?;
        Some((n - from) as f64 / 100.0)
    }
}

/// Each way in which a sensor can say nothing usable, at a step.
type Failure = fn(&mut Monitor, u64) -> Report;
const FAILURES: [(&str, Failure); 7] = [
    ("flow out of range", |m, n| m.push(sample(n * STEP_US, reading(6_000.0, 5.0)))),
    ("pressure out of range", |m, n| m.push(sample(n * STEP_US, reading(5.0, 300.0)))),
    ("lost on every sample", |m, _| m.lost()),
    ("a tick that stands still", |m, n| m.push(sample(5_999 * STEP_US, breath(n)))),
    ("a tick that counts down", |m, n| {
        m.push(sample(12_000_u64.wrapping_sub(n).wrapping_mul(STEP_US), breath(n)))
    }),
    ("readings that do not change", |m, n| m.push(sample(n * STEP_US, reading(3.0, 5.0)))),
    ("a good sample every 1.1 s, and a timer between", |m, n| {
        if n % 110 == 0 {
            m.push(sample(n * STEP_US, breath(n)))
        } else {
            m.tick(Tick::from_us((n * STEP_US) as u32))
        }
    }),
];

#[test]
fn a_sensor_that_says_nothing_usable_rings_and_goes_on_ringing() {
    for (name, fail) in FAILURES {
        let mut watched = Watched::breathing();
        for n in 6_000..18_000 {
            let report = fail(&mut watched.monitor, n);
            watched.hear(n, &report);
            // From 10 s on it is never silent.
            let on = |c| watched.monitor.alarms().is_on(c);
            let blind = (n - 6_000) as f64 / 100.0;
            assert!(
                n < 7_150 || on(Condition::NoInput),
                "{name}: silent after {blind} s, from 11.5 s on it rings"
            );
            // And no verdict of before stands.
            let blind = LoadVerdict::CannotTell(NoVerdict::NoInput);
            assert_eq!(on(Condition::NoInput), watched.monitor.verdict() == blind, "{name}");
        }
        let began = |condition| watched.began(condition, 6_000);
        let (fault, none) = (began(Condition::SensorFault), began(Condition::NoInput));
        println!("{name}: fault after {fault:?} s, no input after {none:?} s");
        // After 2 s; a standing sensor is known as one after half a second, a clock that counts down
        // is followed each time it stays back.
        let said = format!(
            "{name}: fault after {fault:?} s (1.9 to 3.5), no input after {none:?} s (9.9 to 11.5)"
        );
        assert!(fault.is_some_and(|s| (1.9..=3.5).contains(&s)), "{said}");
        assert!(none.is_some_and(|s| (9.9..=11.5).contains(&s)), "{said}");
        // Breaths again: both end with the first usable intervals.
        for n in 18_000..21_000 {
            let report = watched.monitor.push(sample(n * STEP_US, breath(n)));
            watched.hear(n, &report);
        }
        let alarms = watched.monitor.alarms();
        assert!(
            !alarms.is_on(Condition::NoInput) && !alarms.is_on(Condition::SensorFault),
            "{name}"
        );
        assert!(!alarms.is_on(Condition::Apnoea), "{name}: {:?}", watched.told);
    }
}

#[test]
fn a_sensor_that_never_said_anything_usable_rings() {
    for (name, fail) in FAILURES {
        let mut watched = Watched { monitor: Monitor::new(Settings::default()), told: Vec::new() };
        for n in 6_000..7_300 {
            let report = fail(&mut watched.monitor, n);
            watched.hear(n, &report);
        }
        let alarms = watched.monitor.alarms();
        println!("{name}, from power-up: {:?}", watched.told);
        assert!(alarms.is_on(Condition::NoInput), "{name}: {:?}", watched.told);
    }
}

/// Flow goes on, so volumes and breaths look right; only the pressure says nothing any more.
#[test]
fn a_pressure_that_stands_still_while_flow_goes_on_rings_and_is_believed_in_nothing() {
    let mut watched = Watched::breathing();
    let mut trusted = Vec::new();
    for n in 6_000..10_500 {
        let Reading { flow, pressure } = breath(n);
        let still = if n < 9_000 { Pressure::from_int(5) } else { pressure };
        let report = watched.monitor.push(sample(n * STEP_US, Reading { flow, pressure: still }));
        watched.hear(n, &report);
        trusted.extend(report.breath.filter(|b| b.breath.is_trusted()).map(|_| n));
    }
    // Ten breaths of a second, then the fault rings after 2 s, and no input 10 s after the last that was usable.
    let began = |condition| watched.began(condition, 6_000);
    let (fault, none) = (began(Condition::SensorFault), began(Condition::NoInput));
    let said =
        format!("fault after {fault:?} s (11.5 to 13), no input after {none:?} s (19.5 to 21)");
    assert!(fault.is_some_and(|s| (11.5..=13.0).contains(&s)), "{said}");
    assert!(none.is_some_and(|s| (19.5..=21.0).contains(&s)), "{said}");
    let none_in = |from, to| !trusted.iter().any(|n| (from..to).contains(n));
    assert!(none_in(7_100, 9_000), "{trusted:?}");
    // It moves again: both end, and the second breath from there on is whole.
    let alarms = watched.monitor.alarms();
    assert!(!alarms.is_on(Condition::NoInput) && !alarms.is_on(Condition::SensorFault));
    assert!(!none_in(9_000, 9_300), "{trusted:?}");
}

#[test]
fn silence_from_power_up_rings_too() {
    let mut watched = Watched { monitor: Monitor::new(Settings::default()), told: Vec::new() };
    for n in 0..1_200 {
        let report = watched.monitor.tick(Tick::from_us((n * STEP_US) as u32));
        watched.hear(n, &report);
    }
    // Looked at ten times a second.
    let began = |condition| watched.began(condition, 0).unwrap();
    let (fault, none) = (began(Condition::SensorFault), began(Condition::NoInput));
    let said = format!("fault after {fault} s (2 to 2.11), no input after {none} s (10 to 10.11)");
    assert!(
        (2.0..=2.11).contains(&fault) && (10.0..=10.11).contains(&none),
        "{said}: {:?}",
        watched.told
    );
}

#[test]
fn a_clock_set_back_silences_nothing() {
    // Ticks restart at nothing after a minute; then no breath: apnoea after 20 s as without it.
    let mut watched = Watched::breathing();
    for n in 6_000..9_000 {
        let report = watched.monitor.push(sample((n - 6_000) * STEP_US, rest(n)));
        watched.hear(n, &report);
    }
    let apnoea = watched.began(Condition::Apnoea, 6_000);
    // The last breath began at 59 s.
    let said = format!("apnoea {apnoea:?} s after the clock was set back, not 18 to 20.5 s");
    assert!(apnoea.is_some_and(|s| (18.0..=20.5).contains(&s)), "{said}: {:?}", watched.told);
}

#[test]
fn a_moment_behind_a_clock_set_back_is_told_on_the_alarms_time() {
    let mut watched = Watched::breathing();
    let own = Instant::from_us(500_000);
    assert_eq!(watched.monitor.time_of(own), own);
    for n in 6_000..6_020 {
        let _ = watched.monitor.push(sample((n - 6_000) * STEP_US, rest(n)));
    }
    // The last before came at 59.99 s; seven that are not believed and the eighth pass 10 ms each: 60.07 s is 0.07 of
    // the new clock, and 0.5 is 60.5.
    assert_eq!(watched.monitor.time_of(own), Instant::from_us(60_500_000));
}

#[test]
fn an_apnoea_that_rings_at_a_restart_ends_with_the_breaths_after_it() {
    let mut watched = Watched::breathing();
    for n in 6_000..9_000 {
        let report = watched.monitor.push(sample(n * STEP_US, rest(n)));
        watched.hear(n, &report);
    }
    assert!(watched.monitor.alarms().is_on(Condition::Apnoea));
    for n in 9_000..9_600 {
        let report = watched.monitor.push(sample((n - 9_000) * STEP_US, breath(n)));
        watched.hear(n, &report);
    }
    assert!(!watched.monitor.alarms().is_on(Condition::Apnoea), "{:?}", watched.told);
}

#[test]
fn a_change_of_settings_at_any_moment_is_one_now() {
    for at in [0, 59_990_000, 4_296_000_000, u64::MAX] {
        let mut watched = Watched::breathing();
        let settings = *watched.monitor.settings();
        let weaned = settings.change().set_rate(tidevane::quantity::Rate::from_int(20)).build();
        let report = watched.monitor.settings_changed(Instant::from_us(at), weaned.unwrap());
        let told: Vec<_> = report.events.iter().map(|e| (e.at.to_us(), e.what.name())).collect();
        assert_eq!(told, [(59_990_000, "wean-step")], "told at {at}");
        let step = watched.monitor.trend().step().unwrap();
        assert_eq!(step, Instant::from_us(59_990_000), "told at {at}");
    }
}

#[test]
fn stray_times_far_ahead_ring_nothing() {
    // Two samples, and then two ticks of a timer, that stand 30 minutes ahead.
    const LEAP: u64 = 180_000;
    let stray: [(&str, Failure); 2] = [
        ("samples", |m, n| m.push(sample((n + LEAP) * STEP_US, breath(n)))),
        ("ticks", |m, n| m.tick(Tick::from_us(((n + LEAP) * STEP_US) as u32))),
    ];
    for (name, stray) in stray {
        let mut watched = Watched::breathing();
        for n in 6_000..18_000 {
            let report = if n == 6_500 || n == 6_501 {
                stray(&mut watched.monitor, n)
            } else {
                watched.monitor.push(sample(n * STEP_US, breath(n)))
            };
            watched.hear(n, &report);
        }
        assert_eq!(watched.told, [], "{name}");
    }
}

#[test]
fn a_timer_that_leaps_and_stays_there_ends_no_alarm_and_no_breath() {
    // From a minute on the timer's ticks stand 30 minutes ahead of the samples'. Nobody can say which
    // is right; breaths go on, and an apnoea that begins rings.
    let mut breaths = 0;
    let mut watched = Watched::breathing();
    for n in 6_000..12_000 {
        if n % 10 == 0 {
            let report = watched.monitor.tick(Tick::from_us(((n + 180_000) * STEP_US) as u32));
            watched.hear(n, &report);
        }
        let reading = if n < 9_000 { breath(n) } else { rest(n) };
        let report = watched.monitor.push(sample(n * STEP_US, reading));
        watched.hear(n, &report);
        breaths += u32::from(report.breath.is_some());
    }
    // One a second from 60 s on: the breath that begins at 89 s is not over without a next one, that of 59 s was told at 60 s.
    assert_eq!(breaths, 30);
    let apnoea = watched.began(Condition::Apnoea, 8_900);
    assert!(
        apnoea.is_some_and(|s| (18.0..=20.5).contains(&s)),
        "apnoea after {apnoea:?} s, 18 to 20.5 s: {:?}",
        watched.told
    );
    assert_eq!(watched.told.len(), 1, "{:?}", watched.told);
}

#[test]
fn a_block_that_is_sent_again_counts_no_breath_twice() {
    let count = |again: bool| {
        let mut monitor = Monitor::new(Settings::default());
        let mut breaths = 0;
        for n in 0..9_000 {
            // At 60 s the five seconds before come again.
            let block = if again && n == 6_000 { 5_500..6_001 } else { n..n + 1 };
            for n in block {
                let report = monitor.push(sample(n * STEP_US, breath(n)));
                breaths += u32::from(report.breath.is_some());
                assert!(!monitor.alarms().is_on(Condition::Apnoea));
            }
        }
        breaths
    };
    assert_eq!(count(true), count(false));
}

/// Whether breath is drawn, and for how many steps.
type Stretch = (bool, u64);

/// What happens to a stream at a step: the same readings come, and rings must not change.
#[derive(Debug, Clone, Copy)]
enum Damage {
    /// Ticks begin anew.
    Restart,
    /// A reading out of range comes instead.
    Refusal,
    /// So many samples are lost.
    Loss(u64),
    /// So many samples of before come again.
    Again(u64),
    /// A sample stands far ahead.
    Stray,
}

/// When apnoea began and ended, in steps.
fn apnoea(stretches: &[Stretch], damages: &[(u64, Damage)]) -> Vec<(u64, Change)> {
    let mut watched = Watched { monitor: Monitor::new(Settings::default()), told: Vec::new() };
    let (mut n, mut from, mut lost) = (0, 0, 0);
    for &(breathing, steps) in stretches {
        for _ in 0..steps {
            // Two breaths a second.
            let reading = if breathing { breath(n * 2) } else { rest(n) };
            let here = damages.iter().filter(|(at, _)| *at == n).map(|(_, damage)| *damage);
            let push = |watched: &mut Watched, us: u64, reading| {
                let report = watched.monitor.push(sample(us, reading));
                watched.hear(n, &report);
            };
            for damage in here {
                match damage {
                    Damage::Restart => from = n,
                    Damage::Refusal => {
                        push(&mut watched, (n - from) * STEP_US, self::reading(9_000.0, 5.0));
                    }
                    Damage::Loss(samples) => lost = samples,
                    Damage::Again(samples) => {
                        for back in (1..=samples.min(n - from)).rev() {
                            push(&mut watched, (n - from - back) * STEP_US, reading);
                        }
                    }
                    Damage::Stray => push(&mut watched, (n + 500_000) * STEP_US, reading),
                }
            }
            if lost > 0 {
                lost -= 1;
                let report = watched.monitor.lost();
                watched.hear(n, &report);
            } else {
                push(&mut watched, (n - from) * STEP_US, reading);
            }
            n += 1;
        }
    }
    let apnoea = watched.told.iter().filter(|(_, condition, _)| *condition == Condition::Apnoea);
    apnoea.map(|(n, _, change)| (*n, *change)).collect()
}

/// A ring that has no other within a second, and all of both, in seconds.
fn rings(ring: &(u64, Change), whole: &[(u64, Change)], damaged: &[(u64, Change)]) -> String {
    let seconds = |rings: &[(u64, Change)]| -> Vec<String> {
        rings.iter().map(|(n, change)| format!("{change:?} {} s", *n as f64 / 100.0)).collect()
    };
    let (one, whole, damaged) = (seconds(&[*ring]), seconds(whole), seconds(damaged));
    format!("apnoea {one:?} alone: without damage {whole:?}, with it {damaged:?}")
}

fn damage() -> impl Strategy<Value = Damage> {
    prop_oneof![
        Just(Damage::Restart),
        Just(Damage::Refusal),
        (1_u64..30).prop_map(Damage::Loss),
        // Refused readings may be time that passed or none: as long as the block, less than a second.
        (1_u64..100).prop_map(Damage::Again),
        Just(Damage::Stray),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    /// Within a second, what is damaged rings like what is not.
    #[test]
    fn damage_to_a_stream_moves_no_ring(
        rests in prop::collection::vec(500_u64..4_000, 1..5),
        damages in prop::collection::vec((0_u64..20_000, damage()), 0..12),
    ) {
        let mut stretches = vec![(true, 3_000)];
        for rest in rests {
            stretches.extend([(false, rest), (true, 1_000)]);
        }
        // One at a time: two seconds apart.
        let mut apart: Vec<(u64, Damage)> = Vec::new();
        let mut sorted = damages;
        sorted.sort_by_key(|(at, _)| *at);
        for (at, damage) in sorted {
            if at > 1_000 && apart.last().is_none_or(|(last, _)| at >= last + 200) {
                apart.push((at, damage));
            }
        }
        let (whole, damaged) = (apnoea(&stretches, &[]), apnoea(&stretches, &apart));
        // A rest within a second of the limit may ring or not.
        let near = |(n, change): &(u64, Change), other: &[(u64, Change)]| {
            other.iter().any(|(m, c)| c == change && m.abs_diff(*n) <= 100)
        };
        let brief = |n: u64, all: &[(u64, Change)]| {
            all.windows(2).any(|pair| {
                let is_here = pair[0].0 == n || pair[1].0 == n;
                is_here && pair[0].1 == Change::On && pair[1].0 - pair[0].0 <= 100
            })
        };
        for ring in &whole {
            prop_assert!(near(ring, &damaged) || brief(ring.0, &whole), "{}", rings(ring, &whole, &damaged));
        }
        for ring in &damaged {
            prop_assert!(near(ring, &whole) || brief(ring.0, &damaged), "{}", rings(ring, &whole, &damaged));
        }
    }

    /// However the sensor fails, and goes on failing another way, it is never silent from 10 s on.
    #[test]
    fn no_mixture_of_failures_is_silent(
        // Not readings that do not change: for half a second nobody can know them from a live sensor's.
        failures in prop::collection::vec(
            (prop::sample::select(vec![0_usize, 1, 2, 3, 4, 6]), 20_u64..900),
            4..12,
        ),
    ) {
        let mut watched = Watched::breathing();
        let mut n = 6_000;
        for (kind, steps) in failures {
            for _ in 0..steps {
                let report = FAILURES[kind].1(&mut watched.monitor, n);
                watched.hear(n, &report);
                let rings = Alarms::default().highest(watched.monitor.alarms());
                let blind = (n - 6_000) as f64 / 100.0;
                prop_assert!(n < 7_100 || rings.is_some(), "silent {blind} s after it failed, 11 s at most: {:?}", watched.told);
                n += 1;
            }
        }
    }
}

/// Into a report that the caller keeps the timer says what it says by value, and rings as the sensor stays away.
#[test]
fn a_tick_into_a_report_says_what_a_tick_says() {
    let monitor = || Monitor::new(Settings::default());
    let (mut by_value, mut in_place, mut report) = (monitor(), monitor(), Report::default());
    let rang = (0..100).filter(|n| {
        let tick = Tick::from_us(n * 100_000);
        in_place.tick_into(tick, &mut report);
        assert_eq!(report, by_value.tick(tick), "{n}");
        !report.is_silent()
    });
    assert_eq!(rang.count(), 1);
}
