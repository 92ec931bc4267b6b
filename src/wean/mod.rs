//! Whether the infant carries the load as support comes down.
//!
//! Minutes to hours, in bounded memory. Advice on sums: each step of weaning, and taking the tube
//! out, is a clinical decision under local protocol.

mod load;
mod signs;
mod tally;
mod trend;

pub use load::{Load, LoadState, NoVerdict, Verdict};
pub use signs::LoadSigns;
pub use tally::{Tally, TrendBreath};
pub use trend::{Trend, TrendState};
