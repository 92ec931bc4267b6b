//! How the infant fares from minute to minute: whether it carries the load as rate and support come down.
//!
//! Minutes to hours, in bounded memory, fed by closed breaths. Nothing says that an infant is ready, and
//! nothing says what to do.

mod load;
mod minutes;
mod readiness;
mod signs;
mod tally;

pub use load::{LoadCriteria, LoadState, LoadVerdict, NoVerdict};
pub use minutes::{Trend, TrendState};
pub use readiness::{Before, Readiness, ReadinessState};
pub use signs::LoadSigns;
pub use tally::{Tally, TrendBreath};
