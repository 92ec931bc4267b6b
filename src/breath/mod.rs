//! From samples to breaths.

mod ended;
mod moved;
mod observed;
mod open;
mod plausible;
mod quiet;
mod record;
mod segment;
mod sums;
mod totals;
mod turn;
mod unheard;
mod usual;

pub use open::OpenCircuit;
pub use plausible::{Implausible, Plausible, PlausibleState};
pub use quiet::Quiet;
pub use record::{Breath, Kind, Lead, Ratio};
pub use segment::{Phase, Segment, SegmentState};
pub use sums::Sums;
pub use totals::Totals;
pub use unheard::Unheard;
