//! Is the trigger threshold above leak, noise and ripple?

mod cause;
mod effort;
mod floor;
mod threshold;

pub use cause::{Cause, CauseCheck, CauseState, Evidence, Initiation, NoCause};
pub use effort::{Effort, EffortState, EffortWatch, Surroundings};
pub use floor::{Floor, FloorState, Noise};
pub use threshold::{Threshold, TriggerCheck, Verdict};
