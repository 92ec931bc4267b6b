//! A simulated recording of an infant on a leaky tube, and settings to check it with.

use crate::simulated::reading;
use tidevane::monitor::Settings;
use tidevane::quantity::{Duration, Pressure, Share, Tick};
use tidevane::quantity::{Flow, Mass, Rate, Volume};
use tidevane::signal::{Reading, Sample};
use tidevane::trigger::Threshold;
use tidevane::volume::{Limiter, Proposal};
use tidevane_sim::{LeakSettings, Scenario, Schedule, SensorSettings, Simulator};

/// Everything switched on that a bedside would.
///
/// # Panics
/// Never: all its values are in range.
#[must_use]
pub fn settings() -> Settings {
    let cmh2o = Pressure::from_int;
    let half = Share::from_percent(50);
    let proposal = Proposal::new(Volume::from_int(5), cmh2o(3), cmh2o(22), cmh2o(2), half);
    Settings::builder()
        .weight(Mass::from_grams(980).unwrap())
        .threshold(Threshold::new(Flow::from_milli(3_500).value).unwrap())
        .set_rate(Rate::from_int(40))
        .limiter(Limiter::new(Volume::from_int(6), Duration::from_millis(20)).unwrap())
        .proposal(proposal.unwrap())
        .build()
        .unwrap()
}

/// `seconds` of an invented infant on a leaky tube, `hertz` samples a second.
///
/// # Panics
/// Where no scenario has this rate: 50 to 1 000.
#[must_use]
pub fn recording(hertz: u32, seconds: u32) -> Vec<Sample> {
    let scenario = Scenario {
        period_us: 1_000_000 / hertz,
        leak: LeakSettings { size: Schedule::constant(1.0), ..LeakSettings::default() },
        sensor: SensorSettings { ripple: Schedule::constant(0.5), ..SensorSettings::default() },
        ..Scenario::default()
    };
    let mut simulator = Simulator::new(&scenario).unwrap();
    let mut out = Vec::with_capacity((hertz * seconds) as usize);
    while out.len() < (hertz * seconds) as usize {
        let output = simulator.step();
        if let Some(sample) = output.sample {
            let tick = Tick::from_us(u32::try_from(output.at_us & 0xffff_ffff).unwrap());
            let Reading { flow, pressure } = reading(&sample);
            out.push(Sample { tick, flow, pressure });
        }
    }
    out
}
