//! Sums on settings and on what was measured, beside what was published: no sample feeds them, and each
//! can be used alone.
//!
//! Every number here is for somebody who knows the infant and holds to the local protocol. Nothing says
//! that an infant is ready, and nothing says what to do.

mod dead_space;
mod grid;
mod index;
mod plan;
mod published;
mod rate_split;
mod readiness;
mod support;

pub use dead_space::anatomical_dead_space;
pub use grid::{Inflation, PressureGrid};
pub use index::{RapidShallow, SHALLOW_CUTOFFS, ShallowCutoff};
pub use plan::{
    Measurements, NoSufficiency, Plan, PlanStep, Present, StepSizes, Stopping, Sufficiency,
    WeaningPath,
};
pub use published::{Figures, PUBLISHED_TESTS, PublishedTest, TwoByTwo};
pub use rate_split::RateSplit;
pub use readiness::{
    BELOW_THRESHOLD_GROUPS, BelowShare, EntryReport, GroupMedian, Met, NoBelowShare, NoRatio,
    NoTrialOutcome, RatioOutcome, TrialOutcome,
};
pub(crate) use readiness::{
    Entry, EntryLimits, MinuteVolumeRatio, OwnRun, TimeBelow, TimeBelowState, TrialEvent,
    TrialState,
};
pub use support::{Percent, Support, SupportBound, SupportShare};
