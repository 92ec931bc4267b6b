//! A stretch without inflations from its begin to its end.

use super::{Before, Readiness, ReadinessState};
use crate::alarm::{BreathKind, VitalSigns};
use crate::bedside::{Met, NoRatio, NoTrialOutcome, RatioOutcome, TrialOutcome};
use crate::quantity::{Duration, Flow, Instant, Mass, MinuteVolumePerKg, Pressure, Share, Volume};
use crate::trend::TrendBreath;

const CALM: VitalSigns = VitalSigns { heart_rate: Some(150), saturation: Some(94) };

fn at(seconds: u64) -> Instant {
    Instant::from_us(seconds * 1_000_000)
}

/// An own breath of one second and 4 mL, so 240 mL a minute.
fn own() -> TrendBreath {
    TrendBreath {
        length: Duration::from_millis(1_000),
        kind: BreathKind::Own,
        by_infant: true,
        self_cycled: false,
        late: false,
        volume: Some(Volume::from_int(4)),
        at_sensor: Some((Volume::from_int(4), Volume::from_int(4))),
        peak_flow: Flow::from_int(20),
        expiration: Duration::from_millis(600),
        trusted: true,
        implausible: false,
        shallow: false,
    }
}

/// After ten seconds with 480 mL a minute from inflations: `seconds` of own breaths by an infant of
/// 1 kg, then the end.
fn run(seconds: u64, signs: &[(u64, VitalSigns)]) -> (Readiness, ReadinessState) {
    let readiness = Readiness::default().with_weight(Mass::from_grams(1_000).unwrap());
    let mut state = ReadinessState::default();
    let before = Before {
        mechanical: Some(Volume::from_int(480)),
        oxygen: Some(Share::from_percent(30)),
        peak: Some(Pressure::from_int(22)),
        rate: None,
    };
    readiness.begin(&mut state, at(10), before, CALM);
    for second in 1..=seconds {
        for (_, signs) in signs.iter().filter(|(when, _)| *when == second) {
            readiness.set_vital_signs(&mut state, at(10 + second), *signs);
        }
        readiness.breath(&mut state, at(10 + second), &own(), Some(Volume::from_int(240)));
    }
    readiness.end(&mut state, at(10 + seconds));
    (readiness, state)
}

#[test]
fn every_test_gets_its_part() {
    // Arithmetic: 240 of 480 mL a minute are 50 %; 240 mL/kg lie above 125; 60 a minute over 4 mL/kg
    // are 15; the peak of 22 lies above the 20 that the ratio was published from.
    let (readiness, state) = run(700, &[]);
    assert_eq!(state.lasted(), Duration::from_millis(700_000));
    assert_eq!(readiness.ratio(&state), RatioOutcome::Reached(Share::from_percent(50)));
    assert_eq!(readiness.own_per_kg(&state), Some(MinuteVolumePerKg::from_int(240)));
    let index = readiness.rapid_shallow(&state).unwrap();
    assert_eq!(index.value.value.to_num::<i32>(), 15);
    assert_eq!(state.time_below(), Duration::ZERO);
    assert_eq!(state.below.spans().known, Duration::from_millis(700_000));
    let entry = readiness.entry(&state);
    assert_eq!((entry.oxygen, entry.peak, entry.rate), (Met::Met, Met::NotMet, Met::NotKnown));
    assert_eq!(state.trial(), TrialOutcome::Completed);
    let (readiness, short) = run(100, &[]);
    assert_eq!(readiness.ratio(&short), RatioOutcome::Unknown(NoRatio::TooShort));
    assert_eq!(short.trial(), TrialOutcome::Stopped(Duration::from_millis(100_000)));
}

#[test]
fn signs_are_the_events_of_the_trial() {
    // The bounds themselves are no event: a heart of 100, a saturation of 85 %.
    let shown = |heart_rate, saturation| VitalSigns { heart_rate, saturation };
    let bound = shown(Some(100), Some(85));
    let totals = run(200, &[(20, bound)]).1;
    assert_eq!((totals.slow_heart(), totals.low_saturation()), (Duration::ZERO, Duration::ZERO));
    // What is not shown is no event of the other.
    let blind = run(200, &[(20, shown(None, Some(94))), (30, shown(Some(150), None)), (40, CALM)]);
    let totals = blind.1;
    assert_eq!((totals.slow_heart(), totals.low_saturation()), (Duration::ZERO, Duration::ZERO));
    // Slow for 16 s at 20 s: failed 15 s after that.
    let slow = [(20, shown(Some(99), Some(94))), (36, CALM)];
    let failed = TrialOutcome::Failed { at: at(45) };
    assert_eq!(run(200, &slow).1.trial(), failed);
    let (_, low) = run(200, &[(20, shown(Some(150), Some(84))), (32, CALM)]);
    assert_eq!(
        (low.trial(), low.low_saturation()),
        (TrialOutcome::Completed, Duration::from_millis(12_000))
    );
    let (_, lost) = run(200, &[(20, shown(Some(150), None)), (30, CALM)]);
    assert_eq!(lost.trial(), TrialOutcome::Unknown(NoTrialOutcome::Unwatched));
}

#[test]
fn outside_a_stretch_nothing_is_taken() {
    let readiness = Readiness::default();
    let mut state = ReadinessState::default();
    readiness.set_vital_signs(&mut state, at(1), CALM);
    readiness.breath(&mut state, at(2), &own(), None);
    readiness.end(&mut state, at(3));
    assert_eq!(state, ReadinessState::default());
    let (readiness, mut state) = run(50, &[]);
    assert!(!state.running);
    let over = state;
    readiness.set_vital_signs(&mut state, at(70), VitalSigns::default());
    readiness.breath(&mut state, at(71), &own(), None);
    readiness.end(&mut state, at(72));
    assert_eq!(state, over);
    // Without a weight nothing is said per kilogram; what was not known stays so.
    readiness.begin(&mut state, at(100), Before::default(), VitalSigns::default());
    assert!(state.running && state.tally().breaths() == 0);
    assert_eq!(Readiness::default().own_per_kg(&over), None);
    assert_eq!(Readiness::default().rapid_shallow(&over), None);
}
