use super::*;
use crate::breath::PhaseIntegrals;
use crate::quantity::{Flow, Instant, Saturated};
use crate::signal::{Flags, Interval, Reading};

fn ml(milli: i32) -> Volume {
    Volume::from_milli(milli).value
}

/// A trusted inflation by 10 cmH2O.
fn inflation(inspired: i32, expired: i32, length_ms: u64) -> Breath {
    Breath {
        kind: Kind::Inflation,
        inspired: Saturated::exact(ml(inspired)),
        expired: Saturated::exact(ml(expired)),
        peak: Pressure::from_int(15),
        baseline: Pressure::from_int(5),
        end: Instant::from_us(length_ms * 1_000),
        ..Breath::plain()
    }
}

/// What is told of breath after breath.
fn told(plausible: Plausible, breaths: &[Breath]) -> Vec<Option<Implausible>> {
    let mut state = PlausibleState::default();
    breaths.iter().map(|breath| plausible.step(&mut state, breath)).collect()
}

fn infant() -> Plausible {
    Plausible::default().with_weight(Mass::from_grams(1_000).unwrap())
}

use std::vec;
use std::vec::Vec;

#[test]
fn thirty_millilitres_a_kilogram_are_the_most() {
    // 1 kg: 30 mL out is a breath, 30.1 is none; 90 in is one (a leak may take two thirds), 90.1 not.
    for (inspired, expired, plausible) in [
        (30_000, 30_000, true),
        (30_100, 30_100, false),
        (90_000, 5_000, true),
        (90_100, 5_000, false),
    ] {
        let said = told(infant(), &[inflation(inspired, expired, 1_000)]);
        assert_eq!(said == [None], plausible, "{inspired} {expired} {said:?}");
    }
}

#[test]
fn without_a_weight_ten_times_as_much_as_usual_is_too_large_once() {
    // Usually 5 mL; 50 are ten times that, 51 are more. What is usual doubles to 10 with either, so
    // that as much again is none.
    let usual = inflation(5_000, 5_000, 1_000);
    let mut breaths = vec![usual; 8];
    breaths.extend([inflation(50_000, 50_000, 1_000), usual, usual]);
    assert_eq!(told(Plausible::default(), &breaths), [None; 11]);
    breaths[8] = inflation(51_000, 51_000, 1_000);
    breaths[9] = breaths[8];
    let mut want = [None; 11];
    want[8] = Some(Implausible::TooLarge);
    assert_eq!(told(Plausible::default(), &breaths), want);
}

#[test]
fn a_litre_a_kilogram_a_minute_is_too_much() {
    // 1 kg at 60/min: 16 mL are 960 mL/kg a minute, 17 are 1 020; told from eight breaths on.
    let breaths = |volume| vec![inflation(volume, volume, 1_000); 9];
    assert_eq!(told(infant(), &breaths(16_000)), [None; 9]);
    let said = told(infant(), &breaths(17_000));
    assert_eq!(said[..7], [None; 7]);
    assert_eq!(said[7..], [Some(Implausible::TooMuch); 2]);
}

#[test]
fn most_of_twenty_inflations_that_move_nothing_are_too_small() {
    // 0.79 mL/kg under 10 cmH2O: from the twentieth on. Nine good ones later eleven of twenty are
    // still small, with the tenth ten: not more than half.
    let mut breaths = vec![inflation(790, 700, 1_000); 21];
    breaths.extend([inflation(5_000, 5_000, 1_000); 10]);
    let said = told(infant(), &breaths);
    assert_eq!(said[..19], [None; 19]);
    assert_eq!(said[19..30], [Some(Implausible::TooSmall); 11]);
    assert_eq!(said[30], None);
    // 0.8 mL/kg are enough, and so is a rise below 8 cmH2O or a weight that is not known.
    assert_eq!(told(infant(), &vec![inflation(800, 700, 1_000); 30]), [None; 30]);
    assert_eq!(told(Plausible::default(), &vec![inflation(790, 700, 1_000); 30]), [None; 30]);
    let gentle = Breath { peak: Pressure::from_milli(12_990).value, ..inflation(790, 700, 1_000) };
    assert_eq!(told(infant(), &vec![gentle; 30]), [None; 30]);
}

#[test]
fn more_than_150_shallow_breaths_a_minute_are_out_of_scope() {
    // 389 ms and 3.2 mL/kg, under the dead space of 3.28; 3.28 are not, nor is 390 ms.
    let fast = |volume, ms| told(infant(), &vec![inflation(volume, volume, ms); 21]);
    assert_eq!(
        fast(3_200, 389)[18..],
        [None, Some(Implausible::TooFast), Some(Implausible::TooFast)]
    );
    assert_eq!(fast(3_280, 389), [None; 21]);
    assert_eq!(fast(3_200, 390), [None; 21]);
}

#[test]
fn gas_that_comes_out_at_the_higher_pressure_went_the_wrong_way() {
    let sums = |pressure| {
        let reading = Reading { flow: Flow::ZERO, pressure: Pressure::from_int(pressure) };
        let (from, to) = (reading.into(), reading.into());
        PhaseIntegrals::of(&Interval {
            span: Duration::from_millis(500),
            from,
            to,
            ..Interval::default()
        })
    };
    // 5 in and 7 out is as much as an inflation rises; 6 is not.
    let breath = |kind, outward| {
        let (inspiration, expiration) = (sums(5), sums(outward));
        Breath { kind, inspiration, expiration, ..inflation(5_000, 5_000, 1_000) }
    };
    let last = |kind, outward| told(infant(), &vec![breath(kind, outward); 20])[19];
    assert_eq!(last(Kind::Own, 7), Some(Implausible::Inverted));
    assert_eq!(last(Kind::Own, 6), None);
    // Turned round it may look like an inflation, too.
    assert_eq!(last(Kind::Inflation, 7), Some(Implausible::Inverted));
    assert_eq!(last(Kind::Inflation, 6), None);
}

#[test]
fn a_flagged_measurement_says_nothing_of_plausibility() {
    let flags = Flags::GAP;
    let breath = Breath { flags, ..inflation(100_000, 100_000, 1_000) };
    let mut state = PlausibleState::default();
    assert_eq!(infant().step(&mut state, &breath), None);
    assert_eq!(state, PlausibleState::default());
    assert_eq!(Plausible::new(Pressure::ZERO).unwrap_err().parameter, "inflation_rise");
}

#[test]
fn how_many_breaths_a_reason_looks_back_on() {
    // One may be too large, a minute volume is of eight, all else of twenty.
    for (why, count) in [
        Implausible::Inverted,
        Implausible::TooFast,
        Implausible::TooLarge,
        Implausible::TooMuch,
        Implausible::TooSmall,
        Implausible::NoPressure,
    ]
    .map(|why| (why, why.breaths()))
    {
        let wanted = match why {
            Implausible::TooLarge => 1,
            Implausible::TooMuch => 8,
            Implausible::Inverted
            | Implausible::TooFast
            | Implausible::TooSmall
            | Implausible::NoPressure => 20,
        };
        assert_eq!(count, wanted, "{why}");
    }
}

#[test]
fn breaths_at_ambient_pressure_are_not_heard() {
    let milli = |milli| Pressure::from_milli(milli).value;
    let last = |baseline, peak| {
        let (baseline, peak) = (milli(baseline), milli(peak));
        let breath = Breath { kind: Kind::Own, baseline, peak, ..inflation(5_000, 5_000, 1_000) };
        told(infant(), &vec![breath; 20])[19]
    };
    // 0.8 cmH2O either way, and short of the 2 that an inflation rises by.
    assert_eq!(last(800, 1_999), Some(Implausible::NoPressure));
    assert_eq!(last(-800, 300), Some(Implausible::NoPressure));
    assert_eq!((last(801, 1_999), last(-801, 300), last(800, 2_000)), (None, None, None));
}
