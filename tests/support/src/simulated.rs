//! The door from the simulator to the core. Both count in steps of 1/65 536, so nothing is rounded.

use tidevane::quantity::{Flow, Instant, Pressure};
use tidevane::signal::Reading;
use tidevane_sim::{Output, SimSample};

/// A simulated sample as a reading.
#[must_use]
pub fn reading(sample: &SimSample) -> Reading {
    Reading {
        flow: Flow::from_bits(sample.flow_bits()),
        pressure: Pressure::from_bits(sample.pressure_bits()),
    }
}

/// When a sample was taken.
#[must_use]
pub fn at(output: &Output) -> Instant {
    Instant::from_us(output.at_us)
}
