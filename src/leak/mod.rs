//! How much gas escapes beside the tube.

mod change;
mod curve;
mod drive;
mod fraction;
mod line;
mod lung;
mod path;
mod settle;
mod split;
mod zero;

pub use fraction::{Leak, LeakOfExpired, LeakWindowState, NoLeak};
pub use lung::{LungVolume, NoLungVolume};
pub use path::{LeakPath, LeakPathState, Tube};
pub use settle::{Settled, Settling};
pub use split::{Belief, Split};
pub use zero::{LeakFit, ZeroState, ZeroWatch};
