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
mod readiness;
mod receivers;
mod signs;
mod support;
mod tally;
mod tension;
mod trend;

pub use grid::{Inflation, PressureGrid};
pub use index::{Beside, Form, NoIndex, RapidShallow, SHALLOW_CUTOFFS, ShallowCutoff};
pub use levels::{
    PUBLISHED_BANDS, PUBLISHED_SUPPORT, PublishedBand, PublishedSupport, SupportMeasure,
};
pub use load::{Load, LoadState, NoVerdict, Verdict};
pub use plan::{
    Assured, MOST_PLAN_STEPS, Mark, Measurements, NoMark, Plan, PlanStep, PlanSteps, Present,
    StepSizes, Stopping, SupportShare, Way,
};
pub use published::{Evidence, Figures, PUBLISHED_TESTS, PublishedTest, TwoByTwo};
pub use readiness::{
    BELOW_THRESHOLD_GROUPS, Before, BelowShare, BelowSpans, BreathingTrial, Entry, EntryLimits,
    EntryReport, FailReason, GroupMedian, Met, MinuteVolumeRatio, NoBelowShare, NoRatio,
    NoTrialOutcome, OwnRun, RatioOutcome, Readiness, ReadinessState, TimeBelow, TimeBelowState,
    TrialEvent, TrialOutcome, TrialState, TrialTotals,
};
pub use receivers::{SharedOut, Supported};
pub use signs::LoadSigns;
pub use support::{Held, NoShare, ShareOfPeak, ShareOfRise, Support};
pub use tally::{Tally, TrendBreath};
pub use tension::{NoTensionTime, TENSION_CUTOFFS, TensionCutoff, occlusion_mean, tension_time};
pub use trend::{Trend, TrendState};
