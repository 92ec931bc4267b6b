//! How large what is kept is.

use crate::say;
use core::mem::size_of;
use tidevane::alarm::{AlarmsState, VolumeHistory};
use tidevane::breath::SegmenterState;
use tidevane::leak::{LeakPathState, LeakWarmUp, LeakWindowState, ZeroDriftState};
use tidevane::mechanics::FitSums;
use tidevane::monitor::{BreathReport, Monitor, Report, Settings};
use tidevane::signal::{GateState, ZeroCaptureState};
use tidevane::trigger::{
    CauseState, EffortState, NoiseFloorState, Synchrony, ThresholdAdviceState,
};
use tidevane::volume::{LimiterState, ProposalState};

macro_rules! sizes {
    ($($what:ty),* $(,)?) => {
        $(say(concat!("size_of ", stringify!($what)), size_of::<$what>() as u64);)*
    };
}

pub(crate) fn say_all() {
    sizes!(
        Monitor,
        Settings,
        Report,
        BreathReport,
        GateState,
        SegmenterState,
        LeakPathState,
        LeakWarmUp,
        ZeroDriftState,
        NoiseFloorState,
        CauseState,
        EffortState,
        Synchrony,
        ThresholdAdviceState,
        LimiterState,
        ProposalState,
        FitSums,
        AlarmsState,
        VolumeHistory,
        ZeroCaptureState,
    );
    say("size_of LeakWindowState", size_of::<LeakWindowState<8>>() as u64);
}
