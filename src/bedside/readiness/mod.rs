//! Published tests of readiness, as sums on what was measured. None says that an infant is ready.

mod below;
mod entry;
mod ratio;
mod trial;

pub use below::{BELOW_THRESHOLD_GROUPS, BelowShare, GroupMedian, NoBelowShare};
pub(crate) use below::{TimeBelow, TimeBelowState};
pub(crate) use entry::{Entry, EntryLimits};
pub use entry::{EntryReport, Met};
pub(crate) use ratio::{MinuteVolumeRatio, OwnRun};
pub use ratio::{NoRatio, RatioOutcome};
pub use trial::{NoTrialOutcome, TrialOutcome};
pub(crate) use trial::{TrialEvent, TrialState};
