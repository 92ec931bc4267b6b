//! Sixteen minutes that lead through what a sample can cost and tell: an infant who lies still, pulls, tires and
//! stops breathing on a machine that is set anew, over a leak that opens, and a sensor that fails in every way.

use tidevane::quantity::{Flow, Pressure};
use tidevane::signal::Reading;
use tidevane_sim::{
    EffortSettings, LeakSettings, LungSettings, Pattern, Scenario, Schedule, SensorSettings,
    VentilatorSettings, Windows,
};

/// How long it lasts.
pub const SECONDS: u64 = 960;
/// The last half minute comes from a clock that began anew.
pub const CLOCK_RESET_S: u64 = 930;

/// What happens in it.
#[must_use]
pub fn scenario() -> Scenario {
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

/// What the sensor makes of the n-th reading; `None` where it is lost.
#[must_use]
pub fn failing(at_s: f64, n: u64, reading: Reading) -> Option<Reading> {
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
