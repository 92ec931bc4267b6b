//! Is the trigger threshold above leak, noise and ripple?

mod cause;
mod floor;
mod threshold;

pub use cause::{Cause, CauseCheck, CauseState, Evidence, Initiation, NoCause};
pub use floor::{Floor, FloorState, Noise};
pub use threshold::{Threshold, TriggerCheck, Verdict};
