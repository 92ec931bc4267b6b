//! How much gas escapes beside the tube.

mod change;
mod curve;
mod drive;
mod fraction;
mod inspiratory_share;
mod line;
mod lung;
mod path;
mod warm_up;
mod zero;

pub use fraction::{Leak, LeakOfExpired, LeakWindowState, NoLeak};
pub use inspiratory_share::{InspiratoryLeakShare, VolumeCredibility};
pub use lung::{LungVolume, NoLungVolume};
pub use path::{LeakPath, LeakPathState, Tube};
pub use warm_up::{LeakWarmUp, WarmUpOutcome};
pub use zero::{LeakConsistency, ZeroDriftDetector, ZeroDriftState};
