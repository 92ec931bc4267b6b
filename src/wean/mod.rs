//! Taking support away: whether the infant carries the load, and sums on settings beside what was
//! published.
//!
//! Minutes to hours, in bounded memory. Every number here is for somebody who knows the infant and
//! holds to the local protocol. Nothing says that an infant is ready, and nothing says what to do.

mod grid;
mod index;
mod levels;
mod load;
mod plan;
mod published;
mod rate_split;
mod readiness;
mod signs;
mod support;
mod tally;
mod tension;
mod trend;

pub use grid::{Inflation, PressureGrid};
pub use index::{CutoffSide, Form, NoIndex, RapidShallow, SHALLOW_CUTOFFS, ShallowCutoff};
pub use levels::{
    PUBLISHED_BANDS, PUBLISHED_SUPPORT, PublishedBand, PublishedSupport, SupportMeasure,
};
pub use load::{LoadCriteria, LoadState, LoadVerdict, NoVerdict};
pub use plan::{
    Assured, MOST_PLAN_STEPS, Measurements, NoSufficiency, Plan, PlanStep, PlanSteps, Present,
    StepSizes, Stopping, Sufficiency, SupportShare, WeaningPath,
};
pub use published::{Figures, LoadEvidence, PUBLISHED_TESTS, PublishedTest, TwoByTwo};
pub use rate_split::{RateSplit, Supported};
pub use readiness::{
    BELOW_THRESHOLD_GROUPS, Before, BelowShare, BelowSpans, BreathingTrial, Entry, EntryLimits,
    EntryReport, FailReason, GroupMedian, Met, MinuteVolumeRatio, NoBelowShare, NoRatio,
    NoTrialOutcome, OwnRun, RatioOutcome, Readiness, ReadinessState, TimeBelow, TimeBelowState,
    TrialEvent, TrialOutcome, TrialState, TrialTotals,
};
pub use signs::LoadSigns;
pub use support::{NoShare, ShareOfPeak, ShareOfRise, Support, SupportBound};
pub use tally::{Tally, TrendBreath};
pub use tension::{NoTensionTime, TENSION_CUTOFFS, TensionCutoff, occlusion_mean, tension_time};
pub use trend::{Trend, TrendState};
