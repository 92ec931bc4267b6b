//! Is the trigger threshold above leak, noise and ripple?

mod floor;
mod threshold;

pub use floor::{Floor, FloorState};
pub use threshold::{Threshold, TriggerCheck, Verdict};
