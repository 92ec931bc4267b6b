//! The documented range of all that a closed breath says.

use super::setup::Setup;
use tidevane::breath::Kind;
use tidevane::leak::{Leak, LungVolume, NoLeak, NoLungVolume};
use tidevane::mechanics::{FitOutcome, NonlinearElastance};
use tidevane::monitor::BreathReport;
use tidevane::quantity::{Compliance, Flow, Rate, Resistance, Share, Volume};
use tidevane::signal::Flags;
use tidevane::trigger::{Cause, NoCause};
use tidevane::volume::Proposed;

pub(crate) fn check(setup: &Setup, closed: &BreathReport) {
    let b = &closed.breath;
    assert!(b.peak >= b.end_insp_pressure, "{b:?}");
    for flow in [b.peak_insp_flow, b.peak_exp_flow, b.early_out, b.lead.peak] {
        assert!(flow >= Flow::ZERO, "{b:?}");
    }
    assert!(b.lead.until >= b.onset, "the lead ends before it begins: {b:?}");
    assert_eq!(b.kind == Kind::Inflation, b.pressure_rise.is_some());
    assert_eq!(b.kind == Kind::Inflation, closed.initiation.is_some());
    if let Some(quiet) = b.quiet {
        assert!(quiet.low <= quiet.flow && quiet.flow <= quiet.high, "{quiet:?}");
        assert!(quiet.spread >= Flow::ZERO, "{quiet:?}");
    }
    let volumes = (b.inspired, b.expired);
    if b.is_trusted() {
        assert!(!volumes.0.saturated && !volumes.1.saturated, "a clamp without a flag: {b:?}");
    } else {
        assert_eq!(closed.leak, Leak::Unknown(NoLeak::Flagged));
        let drifts = b.flags == Flags::ZERO_DRIFT;
        assert!(drifts || closed.lung == LungVolume::Unknown(NoLungVolume::Flagged));
        assert!(matches!(closed.mechanics, FitOutcome::Unknown(_)));
        assert!(matches!(closed.bend, NonlinearElastance::Unknown(_)));
        assert_eq!(closed.emptying, None);
        let cause = closed.initiation.map(|initiation| initiation.cause);
        assert!(cause.is_none_or(|cause| cause == Cause::Unknown(NoCause::Flagged)));
        assert!(!matches!(closed.proposal, Some(Proposed::Peak { .. })));
    }
    match closed.leak {
        Leak::Share(share) => {
            assert!(share >= Share::ZERO);
            assert!(b.returned().value < Volume::ZERO || share <= Share::ONE, "{share} {b:?}");
        }
        Leak::Negative(share) => assert!(share < Share::ZERO),
        Leak::Unknown(_) => {}
    }
    if let LungVolume::Known { volume, sd } = closed.lung {
        assert!(
            sd >= Volume::ZERO && sd <= Volume::from_bits(volume.to_bits() >> 1),
            "{sd} of {volume}"
        );
    }
    if let FitOutcome::Known { compliance, resistance, goodness, .. } = closed.mechanics {
        assert!(compliance > Compliance::ZERO && compliance <= Compliance::from_int(200));
        assert!(resistance >= Resistance::ZERO && resistance <= Resistance::from_int(2_000));
        assert!(goodness >= Share::from_percent(99) && goodness <= Share::ONE);
    }
    assert!(closed.rate.is_none_or(|rate| rate > Rate::ZERO));
    assert_eq!(closed.rate.is_some(), closed.minute_volume.is_some());
    assert_eq!(closed.trigger.is_some(), setup.settings.machine().threshold.is_some());
    if let Some(Proposed::Peak { peak, .. }) = closed.proposal {
        assert!(setup.ceiling.is_some_and(|ceiling| peak <= ceiling), "{peak}");
    }
}
