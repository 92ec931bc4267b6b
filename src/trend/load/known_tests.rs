//! What cannot be told of the load is said, and why.

use super::tests::{Stretch, course, last, last_of, stretch};
use super::*;
use crate::alarm::BreathKind;
use crate::trend::TrendBreath;
use crate::trend::tally::tests::breath;

#[test]
fn five_breaths_a_minute_make_a_breathing_infant() {
    // One in 12 s is five a minute; one in 12.5 s is 4.8.
    let of_each = |ms| last(&[stretch(12, ms, 4_000), stretch(10, ms, 4_000)]);
    let none = LoadVerdict::CannotTell(NoVerdict::NotBreathing);
    assert_ne!(of_each(12_000), none);
    assert_eq!(of_each(12_500), none);
}

#[test]
fn what_cannot_be_told_is_said() {
    let change = |change: fn(TrendBreath) -> TrendBreath| {
        last(&[stretch(10, 1_000, 4_000), Stretch { change, ..stretch(10, 1_000, 4_000) }])
    };
    let cannot = |why| LoadVerdict::CannotTell(why);
    assert_eq!(last(&[stretch(6, 1_000, 4_000)]), cannot(NoVerdict::TooSoon));
    let flagged = change(|b| TrendBreath { trusted: false, ..b });
    assert_eq!(flagged, cannot(NoVerdict::TooLittleKnown));
    assert_eq!(change(|b| TrendBreath { volume: None, ..b }), cannot(NoVerdict::NoVolume));
    let cycled = change(|b| TrendBreath {
        kind: BreathKind::Assured,
        by_infant: false,
        self_cycled: true,
        ..b
    });
    assert_eq!(cycled, cannot(NoVerdict::SelfCycling));
    let passive = Stretch {
        change: |b| TrendBreath { kind: BreathKind::Assured, by_infant: false, ..b },
        ..stretch(10, 1_000, 4_000)
    };
    assert_eq!(last(&[passive]), cannot(NoVerdict::NotBreathing));
}

#[test]
fn breaths_that_may_be_nobodys_are_no_comfort_and_what_speaks_against_a_step_is_told() {
    let unknown = LoadVerdict::CannotTell(NoVerdict::TooLittleKnown);
    let steady = [stretch(20, 1_000, 4_000)];
    assert_eq!((last_of(&steady, false), last_of(&steady, true)), (LoadVerdict::NoSign, unknown));
    // 60/min of 4 mL, then of 2.6: a third less a minute, whosever they are.
    let less = [stretch(10, 1_000, 4_000), stretch(8, 1_000, 2_600)];
    assert_eq!(last_of(&less, true), LoadVerdict::StepBack(LoadSigns::LESS_VOLUME));
}

#[test]
fn a_minute_volume_that_came_down_to_the_usual_is_no_sign() {
    // 60/min of so many thousandths of a mL: 7.0 are 420 mL/kg a minute, 4.1 are 246 and 3.9 are 234, all less by 30 % and
    // more; 5.9 are 354, which is usual.
    let load = LoadCriteria::default().with_weight(Mass::from_grams(1_000).unwrap());
    let fallen = |from: i32, to: i32| {
        let verdicts = course(load, &[stretch(10, 1_000, from), stretch(8, 1_000, to)]);
        verdicts.last().map(|(_, verdict)| *verdict)
    };
    let signs = LoadSigns::LESS_VOLUME.with(LoadSigns::LESS_ALVEOLAR);
    assert_eq!(fallen(7_000, 4_100), Some(LoadVerdict::NoSign));
    assert_eq!(fallen(7_000, 3_900), Some(LoadVerdict::StepBack(signs)));
    assert_eq!(fallen(5_900, 4_100), Some(LoadVerdict::StepBack(signs)));
    // Without a weight nothing tells what is usual.
    let last = last(&[stretch(10, 1_000, 7_000), stretch(8, 1_000, 4_100)]);
    assert_eq!(last, LoadVerdict::StepBack(LoadSigns::LESS_VOLUME));
}

#[test]
fn an_infant_whose_flow_comes_late_is_not_called_passive_nor_one_that_gives_up() {
    let late = |count: u64| Stretch {
        change: |b| TrendBreath { kind: BreathKind::Assured, by_infant: false, late: true, ..b },
        ..stretch(count, 1_000, 4_000)
    };
    let unknown = LoadVerdict::CannotTell(NoVerdict::TooLittleKnown);
    assert_eq!(last(&[late(10)]), unknown);
    // Own breaths before: that there are none now is no sign where nobody knows, nor is it none.
    assert_eq!(last(&[stretch(10, 1_000, 4_000), late(8)]), unknown);
    // What does not rest on who began them is told: 60/min of 4 mL, then of 2.6 mL, a third less a minute.
    let small = Stretch { micro_l: 2_600, ..late(8) };
    let verdict = last(&[stretch(10, 1_000, 4_000), small]);
    assert_eq!(verdict, LoadVerdict::StepBack(LoadSigns::LESS_VOLUME));
    // Late of half of the breaths is not late of most: 5 of 10, and 6.
    let mut tally = Tally::default();
    let own = breath(BreathKind::Own, 1_000, 4_000);
    for n in 0..10 {
        tally.take(&TrendBreath { late: n < 5, ..own });
    }
    assert!(!tally.is_late());
    tally.take(&TrendBreath { late: true, ..own });
    assert!(tally.is_late());
}
