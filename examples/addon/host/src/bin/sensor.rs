//! Writes what the invented sensor would send during the simulated demo shift.
//!
//! Arguments: the file to write; the largest number of samples.

use anyhow::{Context, Result};
use std::fs;
use tidevane_sim::{Simulator, demo};

fn main() -> Result<()> {
    let mut arguments = std::env::args().skip(1);
    let to = arguments.next().context("the file to write")?;
    let samples: usize = arguments.next().context("the largest number of samples")?.parse()?;
    let mut simulator = Simulator::new(&demo::shift())?;
    let mut bytes = Vec::new();
    for _ in 0..samples {
        // A silent sensor sends what a broken line reads.
        let (flow, pressure) = simulator.step().sample.map_or((-1, -1), |sample| {
            let hundredths = |bits: i32| i64::from(bits) * 100 / 65_536;
            let counts = hundredths(sample.flow_bits()) / 2;
            (counts as i16, hundredths(sample.pressure_bits()) as i16)
        });
        bytes.extend(flow.to_be_bytes());
        bytes.extend(pressure.to_be_bytes());
    }
    fs::write(&to, bytes).context(to)
}
