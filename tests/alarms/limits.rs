//! Limit alarms against an oracle that looks back over the whole course at each step.

use super::{HIGH, LOW, alarm, ml, ms};
use proptest::prelude::*;
use std::collections::HashSet;
use tidevane::alarm::{Change, Changes, LimitAlarm, LimitState, Limits};
use tidevane::quantity::{Duration, Problem, Tick, Volume};
use tidevane::signal::Clock;

/// Steps of 1 to 3000 ms with values about the limits, one in ten missing.
fn course() -> impl Strategy<Value = Vec<(u64, Option<i16>)>> {
    let value = prop_oneof![9 => (30..90_i16).prop_map(Some), 1 => Just(None)];
    prop::collection::vec((1..3_000_u64, value), 1..200).prop_map(|steps| {
        let mut t = 0;
        steps
            .into_iter()
            .map(|(dt, value)| {
                t += dt;
                (t, value)
            })
            .collect()
    })
}

/// What one side does, written another way: looks back over the whole course at each step.
fn oracle(
    course: &[(u64, Option<i16>)],
    delay: u64,
    bad: impl Fn(i16) -> bool,
    inside: impl Fn(i16) -> bool,
) -> Vec<Option<Change>> {
    let mut on = false;
    (0..course.len())
        .map(|i| {
            let (now, value) = course[i];
            let value = value?;
            if on {
                on = !inside(value);
                return (!on).then_some(Change::Off);
            }
            // Back through bad values and missing ones, to the first bad one; what led up to a missing
            // one does not count.
            let run = course[..=i].iter().rev().take_while(|(_, v)| v.is_none_or(&bad)).count();
            let first = (i + 1 - run..=i).find(|&k| course[k].1.is_some())?;
            let blind = |k: &usize| course[*k].1.is_none();
            let unknown: u64 =
                (first + 1..=i).filter(blind).map(|k| course[k].0 - course[k - 1].0).sum();
            on = bad(value) && now - course[first].0 - unknown >= delay;
            on.then_some(Change::On)
        })
        .collect()
}

/// Every course of nine values, a second apart: below the limit, inside it but not by the hysteresis, inside, and none.
#[test]
fn limit_alarms_over_every_course_of_nine() {
    const VALUES: [Option<i16>; 4] = [Some(30), Some(42), Some(60), None];
    for (delay, reached) in [(0, 16), (2_000, 20)] {
        let alarm = alarm(delay, 5, false);
        let mut transitions = HashSet::new();
        for number in 0..4_usize.pow(9) {
            let value = |place: usize| VALUES[(number >> (2 * place)) & 3];
            let course: Vec<_> =
                (0..9).map(|place| (place as u64 * 1_000 + 1, value(place))).collect();
            let low = oracle(&course, delay.into(), |v| v < LOW, |v| v >= LOW + 5);
            let mut state = LimitState::default();
            for (i, &(t, value)) in course.iter().enumerate() {
                let before = (state.is_low(), state.is_missing());
                let changes = alarm.step(&mut state, ms(t), value.map(ml));
                assert_eq!((changes.low, changes.high), (low[i], None), "{course:?} at {i}");
                transitions.insert((before, value, (state.is_low(), state.is_missing())));
            }
        }
        // On or off, missing or not, four values: 16, each with one outcome where nothing waits. With a delay a
        // value below may or may not begin it (two more), and none may or may not be missed yet (two more).
        assert_eq!(transitions.len(), reached, "{transitions:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    /// Never before the delay, always once it is over, and off as soon as a value stands inside.
    #[test]
    fn limit_alarms_match_the_oracle(course in course(), delay in 0..10_000_u32, h in 0..=40_i16) {
        let alarm = alarm(delay, h, false);
        let mut state = LimitState::default();
        let low = oracle(&course, delay.into(), |v| v < LOW, |v| v >= LOW + h);
        let high = oracle(&course, delay.into(), |v| v > HIGH, |v| v <= HIGH - h);
        for (i, &(t, value)) in course.iter().enumerate() {
            let changes = alarm.step(&mut state, ms(t), value.map(ml));
            prop_assert_eq!((changes.low, changes.high), (low[i], high[i]), "step {}", i);
        }
        // never stuck: one value inside ends all
        let end = course.last().unwrap().0 + 1;
        let _ = alarm.step(&mut state, ms(end), Some(ml(LOW + h)));
        let _ = alarm.step(&mut state, ms(end + 1), Some(ml(HIGH - h)));
        prop_assert!(!state.is_low() && !state.is_high() && !state.is_missing());
    }

    /// A missing value is technical only: it neither starts nor ends a physiological alarm.
    #[test]
    fn missing_values_ring_apart(course in course(), delay in 0..10_000_u32) {
        let alarm = alarm(delay, 5, false);
        let mut state = LimitState::default();
        let mut since = None;
        for (t, value) in course {
            let before = (state.is_low(), state.is_high());
            let changes = alarm.step(&mut state, ms(t), value.map(ml));
            if value.is_none() {
                prop_assert_eq!((changes.low, changes.high), (None, None));
                prop_assert_eq!((state.is_low(), state.is_high()), before);
                let first = *since.get_or_insert(t);
                prop_assert_eq!(state.is_missing(), t - first >= u64::from(delay));
            } else {
                since = None;
                prop_assert!(!state.is_missing());
            }
        }
    }

    /// Once it rings, values that flap inside the hysteresis ring no second time.
    #[test]
    fn flapping_inside_the_hysteresis_rings_once(
        values in prop::collection::vec(30..50_i16, 2..200), latching: bool,
    ) {
        // hysteresis 10: 30 to 49 mL never stand inside by it
        let alarm = alarm(0, 10, latching);
        let mut state = LimitState::default();
        let mut rang = 0;
        for (i, &value) in values.iter().enumerate() {
            match alarm.step(&mut state, ms(i as u64 + 1), Some(ml(value))).low {
                Some(Change::On) => rang += 1,
                Some(Change::Off) => prop_assert!(false, "ended inside the hysteresis"),
                None => {}
            }
        }
        prop_assert_eq!(rang, usize::from(values.iter().any(|&v| v < LOW)));
    }

    /// A latching alarm ends by acknowledgement alone, and then does end.
    #[test]
    fn latching_waits_for_acknowledgement(course in course(), delay in 0..5_000_u32) {
        let alarm = alarm(delay, 0, true);
        let mut state = LimitState::default();
        for &(t, value) in &course {
            let changes = alarm.step(&mut state, ms(t), value.map(ml));
            prop_assert!(changes.low != Some(Change::Off) && changes.high != Some(Change::Off));
        }
        state.acknowledge();
        let end = course.last().unwrap().0 + 1;
        let _ = alarm.step(&mut state, ms(end), Some(ml(60)));
        prop_assert!(!state.is_low() && !state.is_high());
    }

    /// Moments that are not later than the last change nothing at all.
    #[test]
    fn disorder_is_ignored(course in course(), back in 0..5_000_u64, delay in 0..5_000_u32) {
        let alarm = alarm(delay, 5, false);
        let (mut plain, mut disturbed) = (LimitState::default(), LimitState::default());
        for (t, value) in course {
            let expected = alarm.step(&mut plain, ms(t), value.map(ml));
            prop_assert_eq!(alarm.step(&mut disturbed, ms(t), value.map(ml)), expected);
            let early = ms(t.saturating_sub(back));
            let ignored = alarm.step(&mut disturbed, early, Some(ml(0)));
            prop_assert_eq!(ignored, Changes::default());
            prop_assert_eq!(disturbed, plain);
        }
    }

    /// The counter's wrap is invisible: the same course from any start rings alike.
    #[test]
    fn wrapping_time_is_invisible(course in course(), start: u32, delay in 0..5_000_u32) {
        let alarm = alarm(delay, 5, false);
        let (mut plain, mut wrapped) = (LimitState::default(), LimitState::default());
        let mut clock = Clock::new();
        for (t, value) in course {
            let tick = Tick::from_us(start.wrapping_add((t * 1_000) as u32));
            let expected = alarm.step(&mut plain, ms(t), value.map(ml));
            let got = alarm.step(&mut wrapped, clock.unwrap_tick(tick), value.map(ml));
            prop_assert_eq!(got, expected);
        }
    }
}

#[test]
fn equal_to_a_limit_is_no_violation() {
    let alarm = alarm(0, 0, false);
    let mut state = LimitState::default();
    let mut step = |t, value| alarm.step(&mut state, ms(t), Some(value));
    let bit = Volume::from_bits(1);
    assert_eq!(step(1, ml(LOW)), Changes::default());
    assert_eq!(step(2, ml(HIGH)), Changes::default());
    assert_eq!(step(3, ml(LOW).saturating_sub(bit).value).low, Some(Change::On));
    let both = step(4, ml(HIGH).saturating_add(bit).value);
    assert_eq!((both.low, both.high), (Some(Change::Off), Some(Change::On)));
}

#[test]
fn limits_and_their_alarms_are_checked() {
    let problem = Limits::new(Some(ml(5)), Some(ml(4))).unwrap_err();
    assert_eq!((problem.parameter, problem.problem), ("low", Problem::Inverted));
    assert!(Limits::new(Some(ml(5)), Some(ml(5))).is_ok());
    let limits = Limits::new(Some(ml(4)), Some(ml(6))).unwrap();
    let made = |delay, hysteresis| {
        LimitAlarm::new(limits, delay, hysteresis, false).map_err(|e| e.parameter).err()
    };
    assert_eq!(made(Duration::from_millis(600_001), ml(0)), Some("delay"));
    assert_eq!(made(Duration::ZERO, ml(-1)), Some("hysteresis"));
    assert_eq!(made(Duration::ZERO, ml(3)), Some("hysteresis"));
    assert_eq!(made(Duration::ZERO, ml(2)), None);
    // Without limits nothing is ever missed.
    let mut state = LimitState::default();
    let open = LimitAlarm::<Volume>::NONE;
    assert_eq!(open.step(&mut state, ms(1), None), Changes::default());
}
