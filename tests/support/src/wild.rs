//! Streams that no infant makes, from waits and raw bits.

use tidevane::quantity::{Flow, Pressure, Tick};
use tidevane::signal::Sample;

/// Samples from the wait before each in microseconds, round the counter, and raw bits of flow and pressure.
#[must_use]
pub fn samples(stream: &[(u32, i32, i32)]) -> Vec<Sample> {
    let mut tick = 0_u32;
    let sample = |&(wait, flow, pressure): &(u32, i32, i32)| {
        tick = tick.wrapping_add(wait);
        let (flow, pressure) = (Flow::from_bits(flow), Pressure::from_bits(pressure));
        Sample { tick: Tick::from_us(tick), flow, pressure }
    };
    stream.iter().map(sample).collect()
}
