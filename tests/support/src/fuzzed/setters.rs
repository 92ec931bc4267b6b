//! Each setting by itself: what was set is what is read, what is taken back is not there, and nothing else moves.

use super::setup::setup;
use super::words::said;
use tidevane::monitor::Settings;
use tidevane::quantity::Mass;
use tidevane::trend::Trend;
use tidevane::trigger::TriggerKind;

/// Puts all parts of other settings in, one by one.
pub(crate) fn check(settings: Settings, number: u8) {
    let other = setup(number).settings;
    macro_rules! one {
        ($($name:ident),*) => {$(
            let built = settings.change().$name(other.$name()).build();
            if let Ok(built) = built {
                assert_eq!(built.$name(), other.$name());
                let back = built.change().$name(settings.$name()).build();
                assert_eq!(back, Ok(settings), "more than {} moved", stringify!($name));
            }
        )*};
    }
    one!(gate, segment, leak_path, flow_offset, zero, alarms, fit, effort, grid);
    let kind = TriggerKind::ALL[usize::from(number) % 5];
    if let Ok(built) = settings.change().trigger(kind).build() {
        assert_eq!(built.machine().trigger, kind);
        assert!(
            !kind.name().is_empty() && said(&kind).len() > 2 && said(built.machine()).len() > 4
        );
    }
    let weight = Mass::from_grams(600 + u32::from(number)).unwrap();
    let weighed = settings.change().weight(weight).build().unwrap();
    assert_eq!(weighed.weight(), Some(weight));
    let (load, trend) = (other.load(), other.trend());
    let built = settings.change().load(load).trend(trend).build().unwrap();
    assert_eq!((built.load().change(), built.load().sustain()), (load.change(), load.sustain()));
    let minutes = |trend: Trend| (trend.settle_minutes(), trend.baseline_minutes());
    assert_eq!(minutes(built.trend()), minutes(trend));
    let mut change = settings.change();
    if let Some(limiter) = other.limiter() {
        change = change.limiter(limiter);
    }
    if let Some(proposal) = other.proposal() {
        change = change.proposal(proposal);
    }
    if let Ok(built) = change.build() {
        assert_eq!(built.limiter(), other.limiter().or(settings.limiter()));
        assert_eq!(built.proposal(), other.proposal().or(settings.proposal()));
        let none = built.change().limiter(None).proposal(None).weight(None).build().unwrap();
        assert_eq!((none.limiter(), none.proposal(), none.weight()), (None, None, None));
        taken_back(built);
    }
}

fn taken_back(settings: Settings) {
    let set = settings.machine();
    let build = |change: tidevane::monitor::SettingsBuilder| *change.build().unwrap().machine();
    let change = settings.change();
    assert_eq!(build(change.threshold(None)).threshold, None);
    assert_eq!(build(change.set_rate(None)).set_rate, None);
    assert_eq!(build(change.support_peak(None)).support_peak, None);
    assert_eq!(build(change.support_peak(None).peak(None)).peak, None);
    let without = build(change.threshold(None).set_rate(None));
    assert_eq!((without.peak, without.support_peak), (set.peak, set.support_peak));
    let none = build(change.threshold(None).set_rate(None).support_peak(None).peak(None));
    assert_eq!(
        (none.threshold, none.set_rate, none.peak, none.support_peak),
        (None, None, None, None)
    );
    assert!(!set.is_step_from(set));
    assert_eq!(
        none.is_step_from(set),
        (set.set_rate, set.peak, set.support_peak) != (None, None, None)
    );
    assert!(!none.is_without_inflations(), "a rate that is not known is not none");
}
