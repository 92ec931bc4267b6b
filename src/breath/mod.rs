//! From samples to breaths.

mod integral;
mod observed;
mod quiet;
mod record;
mod segment;
mod turn;

pub use integral::{Corrected, Sums};
pub use quiet::Quiet;
pub use record::{Breath, Kind, Lead, Ratio};
pub use segment::{Phase, Segment, SegmentState};
