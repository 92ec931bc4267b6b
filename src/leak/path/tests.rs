//! Each limit of the learner from both sides, and each of its results that clamps alone.

use super::*;
use crate::quantity::Duration;
use fixed::types::I16F16;

fn steady(flow: i16, pressure: i16, millis: u32) -> PhaseIntegrals {
    PhaseIntegrals::steady(1_000 * i32::from(flow), pressure, millis)
}

/// A second in and one out at 10 cmH2O: flows in mL/s.
fn breath(inward: i16, outward: i16) -> Breath {
    let (inspiration, expiration) = (steady(inward, 10, 1_000), steady(-outward, 10, 1_000));
    let [inspired, expired] = Breath::volumes(&inspiration, &expiration);
    Breath { inspiration, expiration, inspired, expired, ..Breath::plain() }
}

/// So much flows past the lung at any pressure.
fn level(flow: Flow) -> LeakPathState {
    LeakPathState { curve: Some(Curve::level(flow)), ..LeakPathState::default() }
}

#[test]
fn a_corrected_reading_says_that_it_is_clamped_whichever_part_is() {
    let narrow = TubeResistance::new(Resistance::from_int(1_000), I16F16::from_num(10_000));
    let tube = LeakPath::default().with_tube(Tube::Measured(narrow.unwrap()));
    let none = LeakPath::default();
    let lifted = LeakPathState { lift: Flow::from_int(20_000), ..level(Flow::from_int(20_000)) };
    for (what, path, state, flow, clamped) in [
        ("nothing", none, level(Flow::from_int(10)), 20, false),
        // 3 L/s lose 3 000 + 90 000 cmH2O in the tube.
        ("tip", tube, LeakPathState::default(), 3_000, true),
        // 20 000 + 20 000 mL/s past the lung.
        ("past", none, lifted, 0, true),
        // 30 000 - -10 000 mL/s into it.
        ("lung", none, level(Flow::from_int(-10_000)), 30_000, true),
    ] {
        let reading = Reading { flow: Flow::from_int(flow), pressure: Pressure::from_int(10) };
        assert_eq!(path.correct(&state, reading).saturated, clamped, "{what}");
    }
}

#[test]
fn a_volume_into_the_lung_says_that_it_is_clamped_whichever_part_is() {
    let into = |state: &LeakPathState, sums| LeakPath::default().into_lung(state, &sums).saturated;
    assert!(!into(&level(Flow::from_int(10)), steady(20, 10, 1_000)));
    // 30 000 mL/s for two seconds at the sensor.
    assert!(into(&LeakPathState::default(), steady(30_000, 10, 2_000)));
    // 30 000 mL/s for two seconds past the lung, of 30 000 mL at the sensor.
    assert!(into(&level(Flow::from_int(30_000)), steady(15_000, 10, 2_000)));
    // 20 000 mL at the sensor less -20 000.
    assert!(into(&level(Flow::from_int(-20_000)), steady(20_000, 10, 1_000)));
}

#[test]
fn a_first_breath_is_judged_by_its_leak_only_where_it_was_measured() {
    let path = LeakPath::default();
    let state = LeakPathState::default();
    // 20 in and 18 out: a tenth escapes.
    assert_eq!(path.judge(&state, &breath(20, 18)), Flags::UNSETTLED);
    assert_eq!(path.judge(&state, &breath(20, 20)), Flags::NONE);
    let flagged = Breath { flags: Flags::GAP, ..breath(20, 18) };
    assert_eq!(path.judge(&state, &flagged), Flags::NONE);
    let mut state = state;
    assert_eq!(path.judge_and_take(&mut state, &flagged), Flags::NONE);
    assert_eq!(state, LeakPathState::default());
    // Where nothing went in there is no share of it.
    assert_eq!(path.judge(&state, &breath(0, 5)), Flags::NONE);
    // Under a guess from a quiet beginning the leak was known.
    let quiet = LeakPathState { quiet_guess: true, ..state };
    assert_eq!(path.judge(&quiet, &breath(20, 18)), Flags::NONE);
}

#[test]
fn just_a_twentieth_is_little_leak() {
    // 5 % are 3 277 of 65 536.
    let state = LeakPathState::default();
    let (area, none) = (Area::of_total, Area::ZERO);
    let inspired = area(65_536);
    let drives = |net| Drives { net: area(net), inspired, ..Drives::of(&breath(20, 20)) };
    assert!(!state.is_unsettled(&drives(3_277), none));
    assert!(state.is_unsettled(&drives(3_278), none));
}

#[test]
fn a_breath_misses_beyond_a_quarter_of_what_went_in() {
    // Of 100 in: 25 either way are none.
    let told = [-26, -25, 0, 25, 26].map(|miss| misfit(Area::of_total(miss), Area::of_total(100)));
    assert_eq!(told, [-1, 0, 0, 0, 1]);
    // Where nothing went in any miss is one.
    assert_eq!([-1, 0, 1].map(|miss| misfit(Area::of_total(miss), Area::of_total(-5))), [-1, 0, 1]);
}

#[test]
fn a_level_moves_by_more_than_noise_only() {
    // Nothing inspired yet: 0.6 mL/s either way of a curve at 2 mL/s are noise.
    let bit = Flow::STEP;
    let told = |flow: Flow| {
        let mut state = level(Flow::from_int(2));
        let moved = LeakPath::default().level(&mut state, flow, Pressure::from_int(5));
        assert_eq!(moved, state.lift != Flow::ZERO);
        state.lift
    };
    let above = Flow::from_int(2).saturating_add(LEAST_LIFT).value;
    assert_eq!(told(above), Flow::ZERO);
    assert_eq!(told(above.saturating_add(bit).value), LEAST_LIFT.saturating_add(bit).value);
    let below = Flow::from_int(2).saturating_sub(LEAST_LIFT).value;
    assert_eq!(told(below), Flow::ZERO);
    let less = Flow::ZERO.saturating_sub(LEAST_LIFT.saturating_add(bit).value).value;
    assert_eq!(told(below.saturating_sub(bit).value), less);
    // None flows outward; none at all may be a level.
    assert_eq!(told(Flow::ZERO), Flow::from_int(-2));
    assert_eq!(told(Flow::ZERO.saturating_sub(bit).value), Flow::ZERO);
    // Usually 128 mL/s for a second are inspired, seen eightfold: a sixteenth of that a second is 8.
    let mut state = level(Flow::from_int(2));
    state.inspired = Flow::from_int(1_024).over(1_000_000);
    for (flow, lift) in [(10, 0), (11, 9)] {
        let _ = LeakPath::default().level(&mut state, Flow::from_int(flow), Pressure::from_int(5));
        assert_eq!(state.lift, Flow::from_int(lift), "{flow} mL/s");
    }
}

#[test]
fn a_tube_is_taken_by_weight_only_where_none_is_known() {
    let mass = |grams| Mass::from_grams(grams).unwrap();
    let tube = |grams| LeakPath::default().with_weight(mass(grams)).tube();
    let by_weight = |k1, k2| {
        let made = TubeResistance::new(Resistance::from_int(k1), I16F16::from_num(k2));
        Tube::ByWeight(made.unwrap())
    };
    assert_eq!((tube(1_799), tube(1_800)), (by_weight(22, 500), by_weight(12, 200)));
    assert_eq!((tube(6_000), tube(6_001)), (by_weight(12, 200), Tube::Unknown));
    let own = TubeResistance::new(Resistance::from_int(40), I16F16::from_num(100)).unwrap();
    for known in [Tube::Measured(own), Tube::Likely(own)] {
        let path = LeakPath::default().with_tube(known);
        assert_eq!((path.with_weight(mass(900)), path.without_weight()), (path, path));
    }
    assert_eq!(LeakPath::default().with_weight(mass(900)).without_weight(), LeakPath::default());
    // A measured loss is in doubt by an eighth, another by half: 4 cmH2O at 100 mL/s without a K2.
    let plain = TubeResistance::new(Resistance::from_int(40), I16F16::ZERO).unwrap();
    let doubt = |tube| {
        let mut state = LeakPathState::default();
        for _ in 0..12 {
            // Flow past the lung of half the pressure: 10 and 5 mL/s at 20 and 10 cmH2O.
            let (inspiration, expiration) = (steady(110, 20, 1_000), steady(-95, 10, 1_000));
            let quiet = crate::breath::EndExpiration {
                span: Duration::from_millis(300),
                flow: Flow::from_int(5),
                last: Flow::from_int(5),
                pressure: Pressure::from_int(10),
                ..crate::breath::EndExpiration::default()
            };
            let [inspired, expired] = Breath::volumes(&inspiration, &expiration);
            let quiet = Some(quiet);
            let breath =
                Breath { inspiration, expiration, inspired, expired, quiet, ..Breath::plain() };
            LeakPath::default().learn(&mut state, &breath);
        }
        let path = LeakPath::default().with_tube(tube);
        let doubt = path.tube_doubt(&state, Pressure::from_int(10), Flow::from_int(100));
        doubt.to_f64()
    };
    // Half a cmH2O moves half of that; two move one.
    let (measured, likely) = (doubt(Tube::Measured(plain)), doubt(Tube::Likely(plain)));
    assert!((measured - 0.25).abs() < 0.05, "{measured} mL/s, not 0.25");
    assert!((likely - 1.0).abs() < 0.15, "{likely} mL/s, not 1");
    assert_eq!(doubt(Tube::Unknown).abs(), 0.0);
}

#[test]
fn a_guess_comes_before_the_first_breath_only() {
    let path = LeakPath::default();
    let sums = steady(3, 9, 600);
    let guess = |settled| {
        let mut state = LeakPathState::default();
        path.settle(&mut state, settled);
        (path.flow_at(&state, Pressure::from_int(9)), state.quiet_guess)
    };
    for (settled, quiet) in [(WarmUpOutcome::Quiet(sums), true), (WarmUpOutcome::Late(sums), false)]
    {
        let (flow, was_quiet) = guess(settled);
        let flow = flow.unwrap().value.to_f64();
        // What flows where no pressure drives counts a sixteenth of it.
        assert!((flow - 3.0).abs() < 0.15 && was_quiet == quiet, "{flow} mL/s, not 3");
    }
    assert_eq!(guess(WarmUpOutcome::Wait), (None, false));
    let mut state = level(Flow::from_int(3));
    path.settle(&mut state, WarmUpOutcome::Void);
    assert_eq!(state, LeakPathState::default());
    // A breath has taught: nothing is guessed any more.
    let mut taught = LeakPathState { breaths: 1, ..level(Flow::from_int(5)) };
    let was = taught;
    path.settle(&mut taught, WarmUpOutcome::Quiet(sums));
    path.settle(&mut taught, WarmUpOutcome::Void);
    assert_eq!(taught, was);
}

#[test]
fn a_level_is_dropped_that_the_balance_of_a_breath_speaks_against() {
    // Two seconds of a curve at 2 mL/s, and a level 3 above it: 10 mL with it, 4 without. In areas: mL x 2^17 x 10^6.
    let still = Some((Flow::from_int(5), Pressure::from_int(10)));
    let ml = |x: i16| Flow::from_int(x).over(1_000_000);
    let held = |net: i16, lift: i16| {
        let lift = Flow::from_int(lift);
        let mut state = LeakPathState { still, lift, ..level(Flow::from_int(2)) };
        let drives = Drives { net: ml(net), ..Drives::of(&breath(20, 20)) };
        let with = state.miss_of(&drives);
        let missed = state.hold_level_against(&drives, with);
        (missed, state.lift, state.still.is_some())
    };
    assert_eq!(held(10, 3), (ml(0), Flow::from_int(3), true));
    assert_eq!(held(4, 3), (ml(0), Flow::ZERO, false));
    // 3 less than with it and 3 more than without: it is dropped.
    assert_eq!(held(7, 3), (ml(3), Flow::ZERO, false));
    assert_eq!(held(8, 3), (ml(-2), Flow::from_int(3), true));
    // Where there was none, nothing is held.
    assert_eq!(held(6, 0), (ml(2), Flow::ZERO, false));
}

#[test]
fn what_usually_lies_above_the_curve_is_learned_while_its_level_stays() {
    // 5 mL/s still on a curve at 2: 3 above.
    let still = Some((Flow::from_int(5), Pressure::from_int(10)));
    let bent = |breaths, lift: i16| {
        let lift = Flow::from_int(lift);
        let mut state = LeakPathState { still, lift, breaths, ..level(Flow::from_int(2)) };
        state.bend();
        (state.bent, state.lift)
    };
    assert_eq!(bent(FIRST, 1), (Flow::from_int(3), Flow::ZERO));
    // Then by an eighth a breath, and not while the level is another.
    assert_eq!(bent(FIRST + 1, 0), (Flow::from_milli(375).value, Flow::ZERO));
    assert_eq!(bent(FIRST + 1, 1), (Flow::ZERO, Flow::from_int(1)));
    // It is counted with where a level is looked for: 6.7 are 1.7 above 3 above 2, 5.5 are noise.
    for (milli, lift) in [(6_700, 1_700), (5_500, 0)] {
        let mut state = LeakPathState { bent: Flow::from_int(3), ..level(Flow::from_int(2)) };
        let flow = Flow::from_milli(milli).value;
        let _ = LeakPath::default().level(&mut state, flow, Pressure::from_int(10));
        let apart = state.lift.saturating_sub(Flow::from_milli(lift).value).value;
        assert!(
            apart.magnitude() <= Flow::STEP.magnitude().doubled(),
            "{}, not {lift} thousandths",
            state.lift
        );
    }
}

#[test]
fn two_breaths_that_miss_alike_start_the_window_afresh() {
    // 20 in and out until it is known; then 20 in and 8 out, so that 12 of 20 escape.
    let (path, mut state) = (LeakPath::default(), LeakPathState::default());
    for n in 1..=12 {
        assert_eq!(path.judge(&state, &breath(20, 20)), Flags::NONE, "breath {n}");
        path.learn(&mut state, &breath(20, 20));
    }
    assert!(!state.is_guessing() && !state.is_misfit());
    assert_eq!(state.window_share(), Some(Share::ZERO));
    let leaky = breath(20, 8);
    assert_eq!(path.judge_and_take(&mut state, &leaky), Flags::NONE);
    assert!(state.is_misfit());
    // Its distance of 12 mL moves the scatter by a quarter.
    assert_eq!(state.scatter(), Volume::from_int(3));
    path.conclude(&mut state, &leaky);
    // One that misses alone counts an eighth, so it still misses, and so does the next.
    assert_eq!(path.judge_and_take(&mut state, &leaky), Flags::UNSETTLED);
    path.conclude(&mut state, &leaky);
    assert!(!state.is_misfit());
    // Both breaths lose 12 mL in 2 s at 10 cmH2O: 6 mL/s.
    let flow = path.flow_at(&state, Pressure::from_int(10)).unwrap().value.to_f64();
    assert!((flow - 6.0).abs() < 0.3, "{flow} mL/s past the lung, not 6");
    // One that misses the other way between them starts nothing.
    let mut state = LeakPathState::default();
    (0..12).for_each(|_| path.learn(&mut state, &breath(20, 20)));
    path.learn(&mut state, &breath(20, 8));
    assert_eq!(path.judge(&state, &breath(20, 32)), Flags::NONE);
}
