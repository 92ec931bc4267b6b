//! From samples to breaths.

mod end_expiration;
mod ended;
mod extremes;
mod moved;
mod open;
mod plausible;
mod record;
mod reversal;
mod segment;
mod sums;
mod totals;
mod typical;
mod unheard;

pub use end_expiration::EndExpiration;
pub use open::OpenCircuit;
pub(crate) use plausible::DEAD_SPACE;
pub use plausible::{Implausible, Plausible, PlausibleState};
pub use record::{Breath, Kind, TriggerPhase};
pub use segment::{Phase, Segmenter, SegmenterState};
pub use sums::PhaseIntegrals;
pub use totals::Totals;
pub use unheard::Unheard;
