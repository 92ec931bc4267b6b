//! Published tests of readiness, as sums on what was measured. None says that an infant is ready.

mod below;
mod entry;
mod ratio;
mod trial;

pub use below::{
    BELOW_THRESHOLD_GROUPS, BelowShare, BelowSpans, GroupMedian, NoBelowShare, TimeBelow,
    TimeBelowState,
};
pub use entry::{Entry, EntryLimits, EntryReport, Met};
pub use ratio::{MinuteVolumeRatio, NoRatio, OwnRun, RatioOutcome};
pub use trial::{
    BreathingTrial, FailReason, NoTrialOutcome, TrialEvent, TrialOutcome, TrialState, TrialTotals,
};
