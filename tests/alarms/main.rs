//! Alarms against independent oracles: never before the delay, never stuck.

mod limits;

use proptest::prelude::*;
use std::collections::HashMap;
use tidevane::alarm::{
    AlarmValue, Alarms, AlarmsState, Apnoea, ApnoeaState, BreathKind, Change, Condition,
    Disconnection, DisconnectionState, LimitAlarm, Limits, Measure, Priority, ShortApnoea,
    VitalSigns,
};
use tidevane::monitor::{Monitor, Settings};
use tidevane::quantity::{Duration, Instant, Pressure, Rate, Share, Tick, Volume};
use tidevane::signal::Clock;
use tidevane_sim::{Scenario, Simulator};
use tidevane_support::simulated::{at, reading};
use tidevane_support::view::View;

const LOW: i16 = 40;
const HIGH: i16 = 80;

fn ml(whole: i16) -> Volume {
    Volume::from_int(whole)
}

fn ms(millis: u64) -> Instant {
    Instant::from_us(millis * 1_000)
}

/// Limits of 40 and 80 mL.
fn alarm(delay_ms: u32, hysteresis: i16, latching: bool) -> LimitAlarm<Volume> {
    let limits = Limits::new(Some(ml(LOW)), Some(ml(HIGH))).unwrap();
    LimitAlarm::new(limits, Duration::from_millis(delay_ms), ml(hysteresis), latching).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    /// Apnoea rings exactly where the last inspiration lies as far back as set, or as far as a slow
    /// heart allows.
    #[test]
    fn apnoea_follows_the_last_inspiration(
        steps in prop::collection::vec(
            (1..6_000_u64, prop::bool::weighted(0.15), prop::option::of(60..140_u16)),
            1..300,
        ),
        after in 10_000..=20_000_u32, short in 3_000..=20_000_u32, start: u32,
    ) {
        let pause = ShortApnoea::new(Duration::from_millis(short), 80, 80).unwrap();
        let apnoea = Apnoea::new(Duration::from_millis(after), false).unwrap().with_short(pause);
        let (mut state, mut clock) = (ApnoeaState::default(), Clock::new());
        let (mut t, mut last, mut changes) = (0, None, Vec::new());
        for (dt, breath, heart_rate) in steps {
            t += dt;
            let at = clock.unwrap_tick(Tick::from_us(start.wrapping_add((t * 1_000) as u32)));
            apnoea.set_vital_signs(&mut state, VitalSigns { heart_rate, saturation: None });
            let slow = heart_rate.is_some_and(|rate| rate < 80);
            let longest = u64::from(if slow { after.min(short) } else { after });
            if breath {
                // ticks come with the breaths here, so none comes too late
                changes.extend(apnoea.tick(&mut state, at));
                changes.extend(apnoea.inspiration(&mut state, at));
                prop_assert!(!state.is_on());
                last = Some(t);
            } else {
                changes.extend(apnoea.tick(&mut state, at));
                let since = *last.get_or_insert(t);
                prop_assert_eq!(state.is_on(), t - since >= longest);
            }
        }
        for (i, change) in changes.iter().enumerate() {
            prop_assert_eq!(*change, if i % 2 == 0 { Change::On } else { Change::Off });
        }
    }

    /// Disconnection never rings on fewer breaths than set, and one good breath ends it.
    #[test]
    fn disconnection_counts_breaths(
        losses in prop::collection::vec(80..=100_i16, 1..200), breaths in 1..=16_u8,
    ) {
        let percent = Share::from_percent;
        let alarm = Disconnection::new(percent(95), percent(5), breaths, false).unwrap();
        let mut state = DisconnectionState::default();
        let (mut on, mut row) = (false, 0);
        for (i, &loss) in losses.iter().enumerate() {
            let change = alarm.step(&mut state, ms(i as u64 + 1), None, Some(percent(loss)));
            let expected = if on {
                on = loss >= 90;
                row = 0;
                (!on).then_some(Change::Off)
            } else {
                row = if loss >= 95 { row + 1 } else { 0 };
                on = row >= breaths;
                on.then_some(Change::On)
            };
            prop_assert_eq!(change, expected);
        }
        let end = losses.len() as u64 + 1;
        let _ = alarm.step(&mut state, ms(end), Some((ml(10), ml(9))), None);
        prop_assert!(!state.is_on());
    }

    /// Events tell every change in turn, at most four a call, and nothing stays on once breaths
    /// are as they should be.
    #[test]
    fn all_alarms_tell_all_and_end(steps in prop::collection::vec(anything(), 1..150)) {
        let alarms = every_alarm();
        let mut state = AlarmsState::default();
        let mut told: HashMap<usize, bool> = HashMap::new();
        let mut t = 0;
        let place = |c: Condition| Condition::all().position(|x| x == c).unwrap();
        let mut take = |events: tidevane::alarm::AlarmEvents| {
            for e in events {
                let was = told.insert(place(e.condition), e.change == Change::On).unwrap_or(false);
                assert_eq!(was, e.change == Change::Off, "{e:?}");
            }
        };
        for (dt, what) in steps {
            t += dt;
            match what {
                Some((mut view, faulty)) => {
                    view.at = ms(t);
                    take(alarms.sensor(&mut state, ms(t), blind(faulty)));
                    take(alarms.breath(&mut state, &view.seen()));
                }
                None => take(alarms.tick(&mut state, ms(t))),
            }
        }
        take(alarms.sensor(&mut state, ms(t + 1), Duration::ZERO));
        for i in 1..60 {
            for kind in BreathKind::ALL {
                t += 400;
                take(alarms.breath(&mut state, &good(t, kind).seen()));
            }
            take(alarms.tick(&mut state, ms(t + i % 3)));
        }
        prop_assert!(Condition::all().all(|c| !state.is_on(c)));
        prop_assert_eq!(alarms.highest(&state), None);
        prop_assert!(told.values().all(|on| !on));
    }
}

/// Blind for long enough to ring, or not at all.
fn blind(faulty: bool) -> Duration {
    if faulty { Duration::from_millis(2_000) } else { Duration::ZERO }
}

type Step = (u64, Option<(View, bool)>);

/// A tick, or a breath with values anywhere.
fn anything() -> impl Strategy<Value = Step> {
    let bits = || prop::option::weighted(0.8, prop_oneof![any::<i32>(), 0..8_000_000_i32]);
    let kind = prop::sample::select(BreathKind::ALL.to_vec());
    let view =
        (kind, bits(), bits(), bits(), bits(), bits(), any::<i32>(), any::<bool>(), any::<bool>())
            .prop_map(|(kind, inspired, expired, leak, rate, minute, peak, trusted, faulty)| {
                let view = View {
                    at: Instant::default(),
                    kind,
                    inspired: inspired.map(Volume::from_bits),
                    expired: expired.map(Volume::from_bits),
                    most_out: expired.map(Volume::from_bits),
                    leak: leak.map(Share::from_bits),
                    rate: rate.map(Rate::from_bits),
                    minute_volume: minute.map(Volume::from_bits),
                    peak: Pressure::from_bits(peak),
                    drawn: trusted || faulty,
                    trusted,
                };
                (view, faulty)
            });
    (1..30_000_u64, prop::option::weighted(0.6, view))
}

fn good(t: u64, kind: BreathKind) -> View {
    View {
        at: ms(t),
        kind,
        inspired: Some(ml(60)),
        expired: Some(ml(55)),
        most_out: Some(ml(55)),
        leak: Some(Share::from_percent(8)),
        rate: Some(Rate::from_int(50)),
        minute_volume: Some(ml(250)),
        peak: Pressure::from_int(18),
        drawn: true,
        trusted: true,
    }
}

fn every_alarm() -> Alarms {
    let second = Duration::from_millis(1_000);
    let minute = Limits::new(Some(ml(200)), Some(ml(300))).unwrap();
    let rate = Limits::new(Some(Rate::from_int(30)), Some(Rate::from_int(70))).unwrap();
    let (low, high) = (Pressure::from_int(8), Pressure::from_int(25));
    let pressure = Limits::new(Some(low), Some(high)).unwrap();
    let leak = Limits::new(None, Some(Share::from_percent(40))).unwrap();
    let five = Share::from_percent(5);
    let volume = alarm(1_000, 5, false);
    Alarms {
        own_volume: volume,
        supported_volume: volume,
        assured_volume: volume,
        minute_volume: LimitAlarm::new(minute, second, ml(10), false).unwrap(),
        rate: LimitAlarm::new(rate, second, Rate::from_int(2), false).unwrap(),
        pressure: LimitAlarm::new(pressure, Duration::ZERO, Pressure::from_int(1), false).unwrap(),
        leak: LimitAlarm::new(leak, second, five, false).unwrap(),
        ..Alarms::default()
    }
}

#[test]
fn apnoea_rings_at_twenty_seconds_with_its_length() {
    // AAP 2016, Pediatrics 137:e20153757. The counter wraps meanwhile.
    let alarms = Alarms::default();
    let (mut state, mut clock) = (AlarmsState::default(), Clock::new());
    let mut at =
        |ms: u32| clock.unwrap_tick(Tick::from_us((u32::MAX - 4_999_999).wrapping_add(ms * 1_000)));
    let breath = View { at: at(0), ..good(0, BreathKind::Own) };
    assert!(alarms.breath(&mut state, &breath.seen()).is_empty());
    assert!(alarms.tick(&mut state, at(19_900)).is_empty());
    let events = alarms.tick(&mut state, at(20_000));
    assert_eq!(events.len(), 1);
    assert_eq!((events[0].condition, events[0].change), (Condition::Apnoea, Change::On));
    assert_eq!(events[0].value, Some(AlarmValue::Span(Duration::from_millis(20_000))));
    assert_eq!(alarms.highest(&state), Some(Priority::High));
    // What may be no breath does not end it; a breath does though its values do not count.
    let noise = View { at: at(21_000), drawn: false, trusted: false, ..breath };
    assert!(alarms.breath(&mut state, &noise.seen()).is_empty());
    let late = View { at: at(22_000), trusted: false, ..breath };
    let events = alarms.breath(&mut state, &late.seen());
    assert_eq!((events[0].condition, events[0].change), (Condition::Apnoea, Change::Off));
    // The whole pause: from the breath at 0 to that at 22 s.
    assert_eq!(events[0].value, Some(AlarmValue::Span(Duration::from_millis(22_000))));
}

#[test]
fn kinds_of_breath_have_limits_of_their_own() {
    // 1 kg: 5 mL assured with a limit of 4 mL; own breaths of 3.6 mL have one of 3.5 mL.
    let set = |thousandths| {
        let low = Volume::from_milli(thousandths).value;
        LimitAlarm::new(Limits::new(Some(low), None).unwrap(), Duration::ZERO, ml(0), false)
            .unwrap()
    };
    let one = Alarms { own_volume: set(4_000), assured_volume: set(4_000), ..Alarms::default() };
    let apart = Alarms { own_volume: set(3_500), ..one };
    let rings = |alarms: &Alarms| {
        let (mut state, mut rung) = (AlarmsState::default(), 0);
        for i in 0..100 {
            let (kind, size) =
                if i % 4 == 0 { (BreathKind::Assured, 5_000) } else { (BreathKind::Own, 3_600) };
            let expired = Some(Volume::from_milli(size).value);
            let view = View { expired, ..good((i + 1) * 500, kind) };
            let told = alarms.breath(&mut state, &view.seen());
            rung += told.iter().filter(|event| event.change == Change::On).count();
        }
        rung
    };
    assert_eq!((rings(&one), rings(&apart)), (1, 0));
}

#[test]
fn an_absent_kind_rings_no_more() {
    let alarms = Alarms { own_volume: alarm(0, 0, false), ..Alarms::default() };
    let mut state = AlarmsState::default();
    let small = View { expired: Some(ml(1)), ..good(500, BreathKind::Own) };
    let low = Condition::Low(Measure::Volume(BreathKind::Own));
    assert_eq!(alarms.breath(&mut state, &small.seen())[0].condition, low);
    for t in (1_000..20_500).step_by(500) {
        assert!(alarms.breath(&mut state, &good(t, BreathKind::Assured).seen()).is_empty(), "{t}");
    }
    let events = alarms.breath(&mut state, &good(20_500, BreathKind::Assured).seen());
    assert_eq!((events[0].condition, events[0].change), (low, Change::Off));
}

#[test]
fn more_than_four_changes_come_with_the_next_call_the_urgent_first() {
    let alarms = every_alarm();
    let mut state = AlarmsState::default();
    let unknown = |t| View { trusted: false, ..good(t, BreathKind::Own) };
    // delay 1 s: volume, minute volume, rate and leak cannot be known, pressure at once
    let first = alarms.breath(&mut state, &unknown(500).seen());
    assert_eq!(first[0].condition, Condition::CannotKnow(Measure::Pressure));
    let _ = alarms.sensor(&mut state, ms(1_400), Duration::ZERO);
    assert_eq!(alarms.breath(&mut state, &unknown(1_500).seen()).len(), 4);
    let bad = View { peak: Pressure::from_int(40), ..good(2_000, BreathKind::Own) };
    let events = alarms.breath(&mut state, &bad.seen());
    assert_eq!(events[0].condition, Condition::High(Measure::Pressure));
    assert_eq!(events[0].value, Some(AlarmValue::Pressure(Pressure::from_int(40))));
    assert_eq!(events.len(), 4);
    assert_eq!(alarms.tick(&mut state, ms(2_100)).len(), 2);
    assert!(alarms.tick(&mut state, ms(2_200)).is_empty());
}

#[test]
fn a_simulated_recording_rings_when_it_ends() {
    let mut simulator = Simulator::new(&Scenario::default()).unwrap();
    let mut monitor = Monitor::new(Settings::default());
    let alarms = Alarms::default();
    let mut state = AlarmsState::default();
    let (mut breaths, mut end) = (0, Instant::default());
    for _ in 0..12_000 {
        let output = simulator.step();
        let Some(s) = output.sample else { continue };
        end = at(&output);
        if let Some(report) = monitor.push_at(end, reading(&s)).breath {
            let events = alarms.breath(&mut state, &report.view());
            assert!(events.is_empty(), "{events:?}");
            breaths += 1;
        }
        let events = alarms.tick(&mut state, end);
        assert!(events.is_empty(), "{events:?}");
    }
    assert!(breaths > 30, "{breaths}");
    let silent = end.after(Duration::from_millis(20_000));
    let events = alarms.tick(&mut state, silent);
    assert_eq!(events[0].condition, Condition::Apnoea);
}
