//! A ready-made shift of an invented infant: no real person, no real device.
//!
//! Twenty-one minutes at 100 Hz. The infant starts in step with the set rate; then the leak grows
//! at a sensitive threshold while every trigger gets an inflation, and the machine sets itself off;
//! the tube is moved and the threshold raised; and the set rate is weaned while the infant takes
//! over.

use super::{EffortSettings, LeakSettings, LungSettings, MachineSettings, Pattern};
use super::{Scenario, Schedule, SensorSettings};

/// Weight of the infant, g.
pub const WEIGHT_G: u32 = 980;
/// Length of the shift, s.
pub const DURATION_S: u32 = 1_260;
/// Time between samples, µs.
pub const PERIOD_US: u32 = 10_000;
/// Set rate at the start, per minute.
pub const SET_RATE: f64 = 40.0;
/// The sensitive trigger threshold at the start, mL/s.
pub const SENSITIVE_THRESHOLD: f64 = 2.0;
/// The trigger threshold after it was raised, mL/s.
pub const RAISED_THRESHOLD: f64 = 4.0;
/// When the leak grows, s.
pub const LEAK_GROWS_S: f64 = 240.0;
/// When every trigger begins to get an inflation, s.
pub const EVERY_BREATH_S: f64 = 120.0;
/// When the leak is reduced, s.
pub const LEAK_FALLS_S: f64 = 480.0;
/// When the threshold is raised, s.
pub const THRESHOLD_RISES_S: f64 = 500.0;
/// When weaning begins: the set rate alone is synchronised again, s.
pub const WEANING_S: f64 = 600.0;

/// The shift.
#[must_use]
pub fn shift() -> Scenario {
    Scenario {
        seed: 980,
        period_us: PERIOD_US,
        smallest_breath: 0.4,
        lung: LungSettings::single(70.0, 0.45),
        leak: LeakSettings {
            size: Schedule::constant(0.2)
                .then(LEAK_GROWS_S, 1.5)
                .then(LEAK_FALLS_S, 0.35)
                .then(900.0, 0.25),
            ..LeakSettings::default()
        },
        effort: EffortSettings {
            rate: Schedule::constant(42.0).then(WEANING_S, 46.0).then(900.0, 50.0),
            amplitude: Schedule::constant(2.5).then(WEANING_S, 4.5).then(900.0, 6.5),
            sigh_every: 40,
            sigh_factor: 1.8,
            ..EffortSettings::default()
        },
        machine: MachineSettings {
            pattern: Schedule::constant(Pattern::SetRate)
                .then(EVERY_BREATH_S, Pattern::EveryBreath)
                .then(WEANING_S, Pattern::SetRate),
            set_rate: Schedule::constant(SET_RATE)
                .then(720.0, 30.0)
                .then(900.0, 20.0)
                .then(1_080.0, 10.0),
            threshold: Schedule::constant(SENSITIVE_THRESHOLD)
                .then(THRESHOLD_RISES_S, RAISED_THRESHOLD),
            ..MachineSettings::default()
        },
        sensor: SensorSettings { ripple: Schedule::constant(0.3), ..SensorSettings::default() },
        ..Scenario::default()
    }
}

/// The machine's settings at a time of the shift: trigger threshold in mL/s and set rate per minute.
#[must_use]
pub fn settings_at(seconds: f64) -> (f64, f64) {
    let machine = shift().machine;
    (machine.threshold.at(seconds), machine.set_rate.at(seconds))
}
