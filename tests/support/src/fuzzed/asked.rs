//! What a caller may ask of a monitor between two samples.
//!
//! - An answer agrees with the others, and with the same asked of its parts.
//! - It is said in words.

use super::setup::Setup;
use super::words::said;
use crate::parts::{self, Part};
use tidevane::alarm::Condition;
use tidevane::leak::LeakConsistency;
use tidevane::monitor::snapshot::{read, room, write};
use tidevane::monitor::{Breathing, Monitor};
use tidevane::quantity::{Duration, Flow, Share};
use tidevane::trend::{LoadVerdict, NoVerdict};
use tidevane::trigger::{NoJudgement, NoThreshold, ThresholdAdvice, ThresholdAnswer};

pub(crate) fn check(setup: &Setup, monitor: &Monitor) {
    assert_eq!(monitor.settings(), &setup.settings);
    threshold(setup, monitor);
    synchrony(monitor);
    let is_on = |condition| monitor.alarms().is_on(condition);
    let verdict = monitor.verdict();
    assert!(said(&verdict).starts_with(verdict.name()));
    let deaf = LoadVerdict::CannotTell(NoVerdict::NoInput);
    assert_eq!(verdict == deaf, is_on(Condition::NoInput));
    let blind = is_on(Condition::SensorFault) || is_on(Condition::NoInput);
    match monitor.breathing() {
        Breathing::CannotTell => {}
        Breathing::Apnoea => assert!(is_on(Condition::Apnoea) && !blind),
        Breathing::Breathes => assert!(!is_on(Condition::Apnoea) && !blind),
    }
    let trend = monitor.trend();
    assert_eq!(trend.recent().is_some(), trend.minutes() >= 3);
    assert!(trend.step().is_some() || trend.minutes() == 0);
    match monitor.leak_fit() {
        fit @ (LeakConsistency::Drift(offset) | LeakConsistency::Steeper(offset)) => {
            assert!(offset.to_bits().unsigned_abs() >= 6_553, "{fit:?}");
            said(&fit);
        }
        fit => assert!(!said(&fit).is_empty()),
    }
    let (a, b) = (trend.step().unwrap_or_default(), Duration::from_millis(1_000));
    assert!(monitor.time_of(a) <= monitor.time_of(a.after(b)), "time goes back");
}

/// A snapshot without room, cut short or with a bit that fell over is refused in words.
pub(crate) fn snapshot(monitor: &Monitor, at: usize) {
    let mut bytes = vec![0; room::<Monitor>()];
    let used = write(monitor, &mut bytes).unwrap();
    let at = at % used;
    said(&write(monitor, &mut bytes[..at].to_vec()).unwrap_err());
    said(&read::<Monitor>(&bytes[..at]).unwrap_err());
    bytes[at] ^= 16;
    said(&read::<Monitor>(&bytes[..used]).unwrap_err());
}

/// Judgement, advice and table of the trigger threshold.
fn threshold(setup: &Setup, monitor: &Monitor) {
    let grid = setup.settings.grid();
    let table: Vec<_> = monitor.threshold_table().collect();
    assert!(table.iter().map(|row| row.threshold).eq(grid.levels()));
    assert!(table.windows(2).all(|rows| rows[0].self_cycling >= rows[1].self_cycling));
    assert!(table.windows(2).all(|rows| rows[0].missed_at_least <= rows[1].missed_at_least));
    assert!(table.iter().all(|row| row.missed_at_least <= row.missed_at_most));
    let advice = monitor.threshold_advice();
    said(&advice);
    if let ThresholdAdvice::Set(row) | ThresholdAdvice::AboveFloor(row) = advice {
        assert!(table.contains(&row) && row.self_cycling <= Share::from_percent(2));
    }
    let set = setup.settings.machine().threshold;
    let judgement = monitor.threshold_judgement();
    assert_eq!(judgement.is_some(), set.is_some());
    let Some((judgement, set)) = judgement.zip(set) else { return };
    let text = said(&judgement);
    assert!(text.starts_with(&said(&judgement.answer)), "{text}");
    let whole = &judgement.whole;
    let parts = parts::of(&judgement);
    for counts in ["whole", "worst_cycled", "worst_missed"] {
        let count = |name: &str| match parts[&format!("{counts}.{name}")][..] {
            [Part::Number(count, _)] => count,
            ref other => panic!("{other:?}"),
        };
        let inflations = count("inflations");
        assert!(count("self_cycled") <= inflations && count("unknown") <= inflations);
        assert!(inflations <= i64::from(whole.inflations));
        assert!(count("on_leak") <= count("self_cycled"));
    }
    assert!(whole.missed <= whole.efforts());
    assert!(whole.inflations <= monitor.synchrony().inflations());
    let is_off = matches!(monitor.leak_fit(), LeakConsistency::Drift(_));
    assert_eq!(judgement.answer == ThresholdAnswer::CannotTell(NoJudgement::ZeroOff), is_off);
    match judgement.answer {
        ThresholdAnswer::Raise(to) => {
            assert!(to.threshold > set.flow() && table.contains(&to), "{text}");
        }
        ThresholdAnswer::Lower(to) => {
            assert!(to.threshold < set.flow() && table.contains(&to), "{text}");
        }
        ThresholdAnswer::Just => assert!(judgement.margin.is_some_and(|m| m < grid.step())),
        ThresholdAnswer::Keep | ThresholdAnswer::NoLevel(_) => assert!(whole.inflations >= 20),
        ThresholdAnswer::CannotTell(NoJudgement::TooFew) => {
            let unknown = advice == ThresholdAdvice::None(NoThreshold::TooFewBreaths);
            assert!(whole.inflations < 20 || unknown);
        }
        ThresholdAnswer::CannotTell(_) => {}
    }
    assert!(judgement.margin.is_none_or(|margin| margin <= set.flow()) || set.flow() <= Flow::ZERO);
}

fn synchrony(monitor: &Monitor) {
    let counts = monitor.synchrony();
    let events = counts.self_leak + counts.self_ripple + counts.double + counts.missed;
    let all = u64::from(counts.inflations()) + u64::from(counts.missed);
    let want = (u64::from(events) << 16).checked_div(all);
    let want = want.map(|bits| i32::try_from(bits).unwrap_or(i32::MAX));
    assert_eq!(counts.index().map(Share::to_bits), want);
    let delay = &counts.delay;
    assert!(delay.count() <= counts.effort && delay.late() <= delay.count());
    assert_eq!(delay.mean().is_some(), delay.count() > 0);
    if let Some((mean, (least, most))) = delay.mean().zip(delay.range()) {
        assert!(least <= mean && mean <= most, "{delay:?}");
    }
}
