//! Taking support away: sums on settings and on what was measured, beside what was published.
//!
//! Every number here is for somebody who knows the infant and holds to the local protocol. Nothing
//! says that an infant is ready, and nothing says what to do.

mod grid;
mod index;
mod levels;
mod plan;
mod published;
mod readiness;
mod receivers;
mod support;
mod tension;

pub use grid::{Inflation, PressureGrid};
pub use index::{Beside, Form, NoIndex, RapidShallow, SHALLOW_CUTOFFS, ShallowCutoff};
pub use levels::{
    PUBLISHED_BANDS, PUBLISHED_SUPPORT, PublishedBand, PublishedSupport, SupportMeasure,
};
pub use plan::{
    Assured, MOST_PLAN_STEPS, Mark, Measurements, NoMark, Plan, PlanStep, PlanSteps, Present,
    StepSizes, Stopping, SupportShare, Way,
};
pub use published::{Evidence, Figures, PUBLISHED_TESTS, PublishedTest, TwoByTwo};
pub use readiness::{
    BELOW_THRESHOLD_GROUPS, BelowShare, BelowSpans, BreathingTrial, Entry, EntryLimits,
    EntryReport, FailReason, GroupMedian, Met, MinuteVolumeRatio, NoBelowShare, NoRatio,
    NoTrialOutcome, OwnRun, RatioOutcome, TimeBelow, TimeBelowState, TrialEvent, TrialOutcome,
    TrialState, TrialTotals,
};
pub use receivers::{SharedOut, Supported};
pub use support::{Held, NoShare, ShareOfPeak, ShareOfRise, Support};
pub use tension::{NoTensionTime, TENSION_CUTOFFS, TensionCutoff, occlusion_mean, tension_time};
