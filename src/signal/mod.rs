//! From what a sensor says to samples that can be trusted, with a flag wherever they cannot.

mod clock;
mod flags;
pub mod gas;
mod gate;
mod interval;
mod sample;
mod scale;
mod zero;

pub use clock::Clock;
pub use flags::Flags;
pub use gate::{Gate, GateOutcome, GateState, Refusal};
pub use interval::{End, Interval};
pub use sample::{Reading, Sample};
pub use scale::FlowTable;
pub use zero::{Unsteady, ZeroCapture, ZeroCaptureState};
