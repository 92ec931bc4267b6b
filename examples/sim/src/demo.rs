//! A ready-made weaning shift of an invented infant: no real person, no real device.
//!
//! Four and a half hours at 100 Hz:
//!
//! | min | what happens |
//! |---|---|
//! | 0 | every effort gets an inflation, at a sensitive trigger threshold |
//! | 20 | the tube slips a little: the leak passes the threshold, and the machine sets itself off |
//! | 32 | the tube is put right, then the threshold raised |
//! | 45 | weaning: a set rate, and support for the breaths between |
//! | 60, 80 | peak and rate come down in steps |
//! | 100 | the head is turned: half of the gas escapes, and volumes cannot be believed |
//! | 115 | the head is turned back |
//! | 130 | a step too large: rate to 5 and support halved |
//! | 140 | the infant tires: breaths grow faster and smaller |
//! | 156 | a step back; the infant recovers |
//! | 185, 205, 220 | rate and support come down slowly |
//! | 240 | fifteen minutes without inflations, for the tests of readiness |
//! | 255 | a little rate and support again, until the end |

use crate::effort::EffortSettings;
use crate::leak::LeakSettings;
use crate::lung::LungSettings;
use crate::machine::{Pattern, VentilatorSettings};
use crate::scenario::Scenario;
use crate::schedule::Schedule;
use crate::sensor::SensorSettings;

/// Weight of the infant, g.
pub const WEIGHT_G: u32 = 980;
/// Length of the shift, s.
pub const DURATION_S: u32 = 16_200;
/// Time between samples, µs.
pub const PERIOD_US: u32 = 10_000;
/// Baseline pressure throughout, cmH2O.
pub const BASELINE: f64 = 5.0;
/// Inner diameter of the tube in tenths of a millimetre, and its length in millimetres.
pub const TUBE: (u8, u16) = (25, 110);
/// Inspired oxygen throughout, percent.
pub const OXYGEN_PERCENT: u8 = 27;
/// The sensitive trigger threshold and the one after it was raised, mL/s: 0.1 and 0.3 L/min.
pub const THRESHOLDS: (f64, f64) = (5.0 / 3.0, 5.0);
/// When the leak passes the sensitive threshold, s.
pub const LEAK_GROWS_S: f64 = 1_200.0;
/// When the tube is put right, s.
pub const LEAK_FALLS_S: f64 = 1_920.0;
/// When the threshold is raised, s.
pub const THRESHOLD_RISES_S: f64 = 2_040.0;
/// When weaning begins: a set rate, and support between, s.
pub const WEANING_S: f64 = 2_700.0;
/// When the head is turned, and when it is turned back, s.
pub const HEAD_TURNED_S: (f64, f64) = (6_000.0, 6_900.0);
/// The step too large, and the step back, s.
pub const TOO_LARGE_S: (f64, f64) = (7_800.0, 9_360.0);
/// The trial without inflations, s.
pub const TRIAL_S: (f64, f64) = (14_400.0, 15_300.0);

/// The shift.
#[must_use]
pub fn shift() -> Scenario {
    let (tires, recovers) = (TOO_LARGE_S.0 + 600.0, TOO_LARGE_S.1 + 120.0);
    Scenario {
        seed: 980,
        period_us: PERIOD_US,
        smallest_breath: 0.4,
        lung: LungSettings::single(70.0, 0.45),
        leak: LeakSettings {
            size: Schedule::constant(0.2)
                .then(LEAK_GROWS_S, 1.5)
                .then(LEAK_FALLS_S, 0.3)
                .then(HEAD_TURNED_S.0, 1.1)
                .then(HEAD_TURNED_S.1, 0.3),
            ..LeakSettings::default()
        },
        effort: EffortSettings {
            rate: Schedule::constant(44.0)
                .then(WEANING_S, 48.0)
                .then(TOO_LARGE_S.0, 52.0)
                .then(tires, 62.0)
                .then(tires + 300.0, 70.0)
                .then(recovers, 50.0)
                .then(TRIAL_S.0, 56.0)
                .then(TRIAL_S.1, 50.0),
            amplitude: Schedule::constant(3.0)
                .then(WEANING_S, 5.0)
                .then(4_800.0, 5.5)
                .then(TOO_LARGE_S.0, 6.5)
                .then(tires, 4.5)
                .then(tires + 300.0, 3.4)
                .then(recovers, 6.0)
                .then(TRIAL_S.0 - 1_200.0, 7.5)
                .then(TRIAL_S.0, 9.5),
            sigh_every: 45,
            sigh_factor: 1.6,
            ..EffortSettings::default()
        },
        machine: VentilatorSettings {
            pattern: Schedule::constant(Pattern::EveryBreath).then(WEANING_S, Pattern::SetRate),
            baseline: Schedule::constant(BASELINE),
            peak: Schedule::constant(17.0).then(3_600.0, 16.0).then(11_100.0, 15.0),
            support: Schedule::constant(0.0)
                .then(WEANING_S, 6.0)
                .then(TOO_LARGE_S.0, 3.0)
                .then(TOO_LARGE_S.1, 6.0)
                .then(13_200.0, 4.0)
                .then(TRIAL_S.0, 0.0)
                .then(TRIAL_S.1, 4.0),
            set_rate: Schedule::constant(30.0)
                .then(4_800.0, 20.0)
                .then(TOO_LARGE_S.0, 5.0)
                .then(TOO_LARGE_S.1, 20.0)
                .then(11_100.0, 15.0)
                .then(12_300.0, 10.0)
                .then(TRIAL_S.0, 0.0)
                .then(TRIAL_S.1, 10.0),
            threshold: Schedule::constant(THRESHOLDS.0).then(THRESHOLD_RISES_S, THRESHOLDS.1),
            ..VentilatorSettings::default()
        },
        sensor: SensorSettings { ripple: Schedule::constant(0.3), ..SensorSettings::default() },
        ..Scenario::default()
    }
}

/// What is set on the machine, as a nurse would write it down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dialled {
    /// Trigger threshold, mL/s.
    pub threshold: f64,
    /// Set rate, per minute.
    pub set_rate: f64,
    /// Peak pressure of set inflations, cmH2O.
    pub peak: f64,
    /// Peak pressure of supported breaths, cmH2O; `None` where none is supported.
    pub support_peak: Option<f64>,
}

/// The machine's settings at a time of the shift, s.
#[must_use]
pub fn settings_at(shift: &Scenario, seconds: f64) -> Dialled {
    let machine = &shift.machine;
    let support = machine.support.at(seconds);
    Dialled {
        threshold: machine.threshold.at(seconds),
        set_rate: machine.set_rate.at(seconds),
        peak: machine.peak.at(seconds),
        support_peak: (support > 0.0).then_some(BASELINE + support),
    }
}

/// Heart rate per minute and oxygen saturation in percent at a time of the shift, as another monitor
/// would show them: calm, with one short dip in the trial.
#[must_use]
pub fn signs_at(seconds: f64) -> (u16, u8) {
    let (tires, back) = (TOO_LARGE_S.0 + 600.0, TOO_LARGE_S.1 + 300.0);
    let dip = TRIAL_S.0 + 100.0;
    if (dip..dip + 12.0).contains(&seconds) {
        (138, 83)
    } else if (tires..back).contains(&seconds) {
        (168, 90)
    } else {
        (152, 94)
    }
}
