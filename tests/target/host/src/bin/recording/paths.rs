//! Sixteen minutes that lead through what a sample can cost: an infant who lies still, pulls, tires and
//! stops breathing on a machine that is set anew, over a leak that opens, and a sensor that fails in every
//! way.

use anyhow::Result;
use tidevane::monitor::MachineSettings;
use tidevane::quantity::{Flow, Instant, Pressure};
use tidevane::signal::Reading;
use tidevane_sim::demo::Dialled;
use tidevane_sim::{
    EffortSettings, LeakSettings, LungSettings, Pattern, Scenario, Schedule, SensorSettings,
    Simulator, VentilatorSettings, Windows,
};
use tidevane_target::item::Item;
use tidevane_target::settings;

const SECONDS: u64 = 960;
/// The last half minute comes from a clock that began anew.
const CLOCK_RESET_S: u64 = 930;

fn scenario() -> Scenario {
    let over = Schedule::constant;
    Scenario {
        lung: LungSettings {
            // Passive lungs may be told to have changed.
            compliance_factor: over(1.0).then(70.0, 2.0),
            ..LungSettings::default()
        },
        leak: LeakSettings {
            size: over(0.5).then(640.0, 6.0).then(690.0, 0.2),
            ..LeakSettings::default()
        },
        effort: EffortSettings {
            rate: over(0.0).then(110.0, 45.0).then(430.0, 95.0).then(640.0, 50.0),
            amplitude: over(5.0).then(380.0, 2.5).then(430.0, 3.0).then(640.0, 4.0),
            apnoea: Windows::none().and(700.0, 735.0),
            ..EffortSettings::default()
        },
        machine: VentilatorSettings {
            pattern: Schedule::constant(Pattern::Timed)
                .then(110.0, Pattern::SetRate)
                .then(640.0, Pattern::EveryBreath)
                .then(700.0, Pattern::SetRate),
            set_rate: over(40.0).then(110.0, 25.0).then(700.0, 0.0).then(735.0, 30.0),
            threshold: over(3.0).then(380.0, 9.0).then(430.0, 3.0),
            refractory: 0.1,
            ..VentilatorSettings::default()
        },
        sensor: SensorSettings {
            ripple: over(0.0).then(640.0, 2.0).then(690.0, 0.3),
            flow_lag: 8.0,
            ..SensorSettings::default()
        },
        ..Scenario::default()
    }
}

fn machine(scenario: &Scenario, at: f64) -> Result<MachineSettings> {
    let set = &scenario.machine;
    Ok(settings::machine(&Dialled {
        threshold: set.threshold.at(at),
        set_rate: set.set_rate.at(at),
        peak: set.peak.at(at),
        support_peak: None,
    })?)
}

/// What the sensor makes of a reading; `None` where it is lost.
fn failing(at_s: f64, n: u64, reading: Reading) -> Option<Reading> {
    let within = |from: f64, until: f64| at_s >= from && at_s < until;
    let noise = Flow::from_bits(i32::from((n % 7) as u8) << 12);
    let Reading { flow, pressure } = reading;
    let reading = if within(738.0, 758.0) {
        // Eight times too much.
        let twice = |flow: Flow| flow.saturating_add(flow).value;
        Reading { flow: twice(twice(twice(flow))), pressure }
    } else if within(770.0, 790.0) {
        // The zero drifts.
        Reading { flow: flow.saturating_add(Flow::from_int(6)).value, pressure }
    } else if within(800.0, 804.0) {
        Reading { flow: Flow::from_int(3), pressure: Pressure::from_int(5) }
    } else if within(810.0, 830.0) {
        // Its range ends at 30 mL/s.
        Reading { flow: flow.clamp(Flow::from_int(-30), Flow::from_int(30)), pressure }
    } else if within(835.0, 836.0) {
        Reading { flow: Flow::from_int(6_000), pressure }
    } else if within(860.0, 870.0) {
        Reading { flow: Flow::from_int(70).saturating_add(noise).value, pressure: Pressure::ZERO }
    } else {
        reading
    };
    // Six in fifty are lost for a while; then twelve seconds.
    let lost = (within(880.0, 890.0) && n % 50 < 6) || within(900.0, 912.0);
    (!lost).then_some(reading)
}

/// The recording.
///
/// # Errors
/// As the simulator and the settings say.
pub(crate) fn paths() -> Result<Vec<Item>> {
    let scenario = scenario();
    let mut simulator = Simulator::new(&scenario)?;
    let (mut items, mut set) = (Vec::new(), None);
    // The usual 100 samples a second.
    for n in 0..SECONDS * 100 {
        let output = simulator.step();
        let own_us = output.at_us;
        let since_us = CLOCK_RESET_S * 1_000_000;
        // Three seconds are missing before the clock begins anew.
        if own_us >= since_us && own_us < since_us + 3_000_000 {
            continue;
        }
        let at = Instant::from_us(if own_us < since_us { own_us } else { own_us - since_us });
        let now = machine(&scenario, own_us as f64 / 1e6)?;
        if set != Some(now) {
            set = Some(now);
            items.push(Item::Machine(at, now));
        }
        // A gap that cuts the breath under way.
        if own_us >= 845_000_000 && own_us < 848_000_000 {
            continue;
        }
        items.push(match Item::simulated(at, output.sample) {
            Item::Sample(at, reading) => failing(own_us as f64 / 1e6, n, reading)
                .map_or(Item::Lost, |reading| Item::Sample(at, reading)),
            other => other,
        });
    }
    Ok(items)
}
