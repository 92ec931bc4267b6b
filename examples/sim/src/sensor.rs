//! What a sensor makes of the true flow and pressure.

use crate::check::within;
use crate::error::ScenarioError;
use crate::noise::Noise;
use crate::schedule::{Schedule, Windows};
use core::f32::consts::TAU;
use micromath::F32Ext;

/// Steps of a sample in one mL/s and in one cmH2O.
const STEPS: f64 = 65_536.0;
/// Time constant of the flow that moving water makes, s.
const WATER_LAG: f64 = 0.02;
/// How long a zero takes to wander there and back, s.
const WANDER: f64 = 25.0;

/// A sensor at the airway opening, with its faults.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SensorSettings {
    /// Flow that each heartbeat adds, as the amplitude of a sine in mL/s over time, 0 to 100. The
    /// machine sees it too.
    pub ripple: Schedule,
    /// Heartbeats per second, 0.2 to 6.
    pub ripple_rate: f64,
    /// Spread of the noise on flow in mL/s, 0 to 50.
    pub flow_noise: f64,
    /// Spread of the noise on pressure in cmH2O, 0 to 10.
    pub pressure_noise: f64,
    /// Time constant of the flow signal in ms, 0 to 200.
    pub flow_lag: f64,
    /// Time constant of the pressure signal in ms, 0 to 200.
    pub pressure_lag: f64,
    /// Step of the flow signal in mL/s, 0 (none) to 20.
    pub flow_step: f64,
    /// Step of the pressure signal in cmH2O, 0 (none) to 5.
    pub pressure_step: f64,
    /// Zero error of the flow signal in mL/s, −50 to 50.
    pub offset: f64,
    /// Change of that error in mL/s per minute, −50 to 50.
    pub offset_drift: f64,
    /// Factor on the flow signal, 0.2 to 5: a wrong calibration.
    pub gain: f64,
    /// Factor on outward flow beside that, 0.5 to 2: an unequal calibration.
    pub gain_out: f64,
    /// How far the zero wanders either way in mL/s, 0 to 10, once in 25 s.
    pub wander: f64,
    /// Windows in which water moves in the circuit. The machine sees its flow too.
    pub water: Windows,
    /// Spread of the flow that the water makes in mL/s, 0 to 100.
    pub water_flow: f64,
    /// The flow signal is cut at ± this many mL/s, 1 to 20 000.
    pub flow_limit: f64,
    /// Windows without samples.
    pub dropout: Windows,
    /// Windows in which the signal stands still.
    pub stuck: Windows,
}

impl Default for SensorSettings {
    /// A good sensor: a little noise, 2 ms of lag, steps of 0.05 mL/s and 0.01 cmH2O, no fault.
    fn default() -> Self {
        Self {
            flow_noise: 0.1,
            pressure_noise: 0.03,
            flow_lag: 2.0,
            pressure_lag: 2.0,
            flow_step: 0.05,
            pressure_step: 0.01,
            ..Self::perfect()
        }
    }
}

impl SensorSettings {
    /// Gives the true values.
    #[must_use]
    pub const fn perfect() -> Self {
        Self {
            ripple: Schedule::constant(0.0),
            ripple_rate: 2.4,
            flow_noise: 0.0,
            pressure_noise: 0.0,
            flow_lag: 0.0,
            pressure_lag: 0.0,
            flow_step: 0.0,
            pressure_step: 0.0,
            offset: 0.0,
            offset_drift: 0.0,
            gain: 1.0,
            gain_out: 1.0,
            wander: 0.0,
            water: Windows::none(),
            water_flow: 8.0,
            flow_limit: 2_000.0,
            dropout: Windows::none(),
            stuck: Windows::none(),
        }
    }

    pub(crate) fn check(&self) -> Result<(), ScenarioError> {
        self.ripple.check("sensor.ripple", 0.0, 100.0)?;
        within("sensor.ripple_rate", self.ripple_rate, 0.2, 6.0)?;
        within("sensor.flow_noise", self.flow_noise, 0.0, 50.0)?;
        within("sensor.pressure_noise", self.pressure_noise, 0.0, 10.0)?;
        within("sensor.flow_lag", self.flow_lag, 0.0, 200.0)?;
        within("sensor.pressure_lag", self.pressure_lag, 0.0, 200.0)?;
        within("sensor.flow_step", self.flow_step, 0.0, 20.0)?;
        within("sensor.pressure_step", self.pressure_step, 0.0, 5.0)?;
        within("sensor.offset", self.offset, -50.0, 50.0)?;
        within("sensor.offset_drift", self.offset_drift, -50.0, 50.0)?;
        within("sensor.gain", self.gain, 0.2, 5.0)?;
        within("sensor.gain_out", self.gain_out, 0.5, 2.0)?;
        within("sensor.wander", self.wander, 0.0, 10.0)?;
        self.water.check("sensor.water")?;
        within("sensor.water_flow", self.water_flow, 0.0, 100.0)?;
        within("sensor.flow_limit", self.flow_limit, 1.0, 20_000.0)?;
        self.dropout.check("sensor.dropout")?;
        self.stuck.check("sensor.stuck")
    }
}

/// One sample as the sensor gives it: whole steps of 1/65 536, cut at ±32 768.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SimSample {
    /// Airway flow in mL/s, positive into the infant.
    pub flow: f64,
    /// Airway pressure in cmH2O.
    pub pressure: f64,
}

impl SimSample {
    /// The sample nearest to a flow and a pressure.
    fn nearest(flow: f64, pressure: f64) -> Self {
        let whole = |value| f64::from(bits(value)) / STEPS;
        Self { flow: whole(flow), pressure: whole(pressure) }
    }

    /// The flow in steps of 1/65 536 mL/s; a flow set from outside is rounded to the nearest, and
    /// clamps at the ends of the type.
    #[must_use]
    pub fn flow_bits(&self) -> i32 {
        bits(self.flow)
    }

    /// The pressure in steps of 1/65 536 cmH2O, as [`flow_bits`](Self::flow_bits).
    #[must_use]
    pub fn pressure_bits(&self) -> i32 {
        bits(self.pressure)
    }
}

/// A reading, and whether a fault lies on it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Reading {
    pub(crate) sample: Option<SimSample>,
    pub(crate) faulty: bool,
}

/// The sensor's state.
#[derive(Debug, Clone)]
pub(crate) struct Sensor {
    settings: SensorSettings,
    noise: Noise,
    ripple: f64,
    wet: bool,
    water: f64,
    flow: f64,
    pressure: f64,
    held: Option<SimSample>,
}

impl Sensor {
    pub(crate) fn new(settings: &SensorSettings, noise: Noise, flow: f64, pressure: f64) -> Self {
        let (ripple, wet, water) = (0.0, false, 0.0);
        Self { settings: *settings, noise, ripple, wet, water, flow, pressure, held: None }
    }

    pub(crate) fn refresh(&mut self, seconds: f64) {
        self.ripple = self.settings.ripple.at(seconds);
        self.wet = self.settings.water.contains(seconds);
    }

    /// Flow of heartbeat and water during a step, mL/s.
    pub(crate) fn disturb(&mut self, seconds: f64, dt: f64) -> (f64, f64) {
        let ripple = if self.ripple > 0.0 {
            let beats = seconds * self.settings.ripple_rate;
            let phase = (beats - beats as u64 as f64) as f32;
            // Named through the trait: the standard library's own sine differs by platform.
            self.ripple * f64::from(F32Ext::sin(phase * TAU))
        } else {
            0.0
        };
        if self.wet {
            // Filtered noise keeps its spread: a step's kick is spread × √(2 dt/lag).
            let kick = crate::root::root(2.0 * dt / WATER_LAG) * self.settings.water_flow;
            self.water += kick * self.noise.normal() - self.water * dt / WATER_LAG;
        } else {
            self.water = 0.0;
        }
        (ripple, self.water)
    }

    /// Follows flow and pressure through a step.
    pub(crate) fn follow(&mut self, dt: f64, flow: f64, pressure: f64) {
        self.flow += (flow - self.flow) * dt / (self.settings.flow_lag / 1_000.0 + dt);
        self.pressure +=
            (pressure - self.pressure) * dt / (self.settings.pressure_lag / 1_000.0 + dt);
    }

    /// The sample at a time.
    pub(crate) fn read(&mut self, seconds: f64) -> Reading {
        let s = &self.settings;
        // Drawn at every sample, so that a fault does not shift the noise after it.
        let (flow_noise, pressure_noise) = (self.noise.normal(), self.noise.normal());
        let zero = s.offset + s.offset_drift * seconds / 60.0;
        let gain = s.gain * if self.flow < 0.0 { s.gain_out } else { 1.0 };
        let flow = gain * self.flow + zero + wandered(s, seconds) + s.flow_noise * flow_noise;
        let cut = flow.clamp(-s.flow_limit, s.flow_limit);
        let pressure = self.pressure + s.pressure_noise * pressure_noise;
        let mut sample =
            SimSample::nearest(stepped(cut, s.flow_step), stepped(pressure, s.pressure_step));
        let stuck = s.stuck.contains(seconds);
        self.held = if stuck { self.held.or(Some(sample)) } else { None };
        sample = self.held.unwrap_or(sample);
        let missing = s.dropout.contains(seconds);
        Reading {
            sample: (!missing).then_some(sample),
            faulty: missing || stuck || self.wet || flow.abs() > s.flow_limit,
        }
    }
}

/// Where a zero that wanders stands, mL/s.
fn wandered(settings: &SensorSettings, seconds: f64) -> f64 {
    if settings.wander <= 0.0 {
        return 0.0;
    }
    let turns = seconds / WANDER;
    let phase = (turns - turns as u64 as f64) as f32;
    settings.wander * f64::from(F32Ext::sin(phase * TAU))
}

/// To the nearest multiple of a step; steps of zero leave the value.
fn stepped(value: f64, step: f64) -> f64 {
    if step > 0.0 { rounded(value / step) as f64 * step } else { value }
}

/// The nearest raw step of 1/65 536; clamps.
fn bits(value: f64) -> i32 {
    i32::try_from(rounded(value * STEPS)).unwrap_or(if value < 0.0 { i32::MIN } else { i32::MAX })
}

/// To the nearest whole number, halves away from zero; the cast clamps.
fn rounded(value: f64) -> i64 {
    (if value < 0.0 { value - 0.5 } else { value + 0.5 }) as i64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(settings: &SensorSettings, flow: f64, seconds: f64) -> Option<f64> {
        let mut sensor = Sensor::new(settings, Noise::new(1, 1), flow, 5.0);
        sensor.read(seconds).sample.map(|s| s.flow)
    }

    #[test]
    fn a_sample_is_whole_steps_and_clamps() {
        // Derived here: 1/65 536 = 0.000 015 258 8; 0.3 × 65 536 = 19 660.8.
        let sample = SimSample::nearest(0.3, -0.3);
        assert_eq!((sample.flow_bits(), sample.pressure_bits()), (19_661, -19_661));
        assert_eq!((sample.flow * 65_536.0, sample.pressure * 65_536.0), (19_661.0, -19_661.0));
        let far = SimSample::nearest(40_000.0, -40_000.0);
        assert_eq!((far.flow_bits(), far.pressure_bits()), (i32::MAX, i32::MIN));
    }

    #[test]
    fn an_unequal_gain_and_a_zero_that_wanders() {
        let unequal = SensorSettings { gain: 0.9, gain_out: 1.1, ..SensorSettings::perfect() };
        let near = |a: Option<f64>, b: f64| a.is_some_and(|a| (a - b).abs() < 1e-4);
        assert!(near(read(&unequal, 10.0, 0.0), 9.0) && near(read(&unequal, -10.0, 0.0), -9.9));
        // A quarter of 25 s: all of it.
        let wanders = SensorSettings { wander: 0.8, ..SensorSettings::perfect() };
        assert!(near(read(&wanders, 10.0, 6.25), 10.8) && near(read(&wanders, 10.0, 0.0), 10.0));
    }

    #[test]
    fn steps_limits_and_offsets_apply() {
        // Derived here: 3.13 to the nearest 0.25 is 3.25; −900 is cut at −200; an offset of 1 and
        // 0.5 a minute over 2 minutes adds 2; a gain of 0.9 takes 1 off 10.
        let clean = SensorSettings::perfect();
        assert_eq!(read(&SensorSettings { flow_step: 0.25, ..clean }, 3.13, 0.0), Some(3.25));
        assert_eq!(read(&SensorSettings { flow_step: 0.25, ..clean }, -3.13, 0.0), Some(-3.25));
        assert_eq!(read(&SensorSettings { flow_limit: 200.0, ..clean }, -900.0, 0.0), Some(-200.0));
        let drifting = SensorSettings { offset: 1.0, offset_drift: 0.5, ..clean };
        assert_eq!(read(&drifting, 4.0, 120.0), Some(6.0));
        assert_eq!(read(&SensorSettings { gain: 0.9, ..clean }, 10.0, 0.0), Some(9.0));
    }

    #[test]
    fn a_lag_passes_63_percent_after_its_time() {
        // Textbook: 1 − e⁻¹ = 0.632; the backward step of 0.5 ms in 20 ms errs by about 1 %.
        let slow =
            SensorSettings { flow_lag: 20.0, pressure_lag: 20.0, ..SensorSettings::perfect() };
        let mut sensor = Sensor::new(&slow, Noise::new(1, 1), 0.0, 5.0);
        for _ in 0..40 {
            sensor.follow(0.000_5, 10.0, 15.0);
        }
        let sample = sensor.read(0.0).sample;
        let flow = sample.map(|s| s.flow);
        let pressure = sample.map(|s| s.pressure);
        assert!(pressure.is_some_and(|p| (p - 11.32).abs() < 0.08), "{pressure:?}");
        assert!(flow.is_some_and(|f| (f - 6.32).abs() < 0.08), "{flow:?}");
    }

    #[test]
    fn ripple_and_water_have_their_size_and_rate() {
        // Derived here: a sine of 2 mL/s at 2.5/s is at its top after a tenth of a second; water
        // keeps its spread of 8 mL/s.
        let wet = SensorSettings {
            ripple: Schedule::constant(2.0),
            ripple_rate: 2.5,
            water: Windows::none().and(0.0, 100.0),
            ..SensorSettings::perfect()
        };
        let mut sensor = Sensor::new(&wet, Noise::new(1, 1), 0.0, 5.0);
        sensor.refresh(0.0);
        assert!((sensor.disturb(0.1, 0.000_5).0 - 2.0).abs() < 0.01);
        assert!((sensor.disturb(0.3, 0.000_5).0 + 2.0).abs() < 0.01);
        let squares = (0..100_000).fold(0.0, |sum, _| {
            let water = sensor.disturb(0.0, 0.000_5).1;
            sum + water * water
        });
        assert!(((squares / 100_000.0_f64).sqrt() - 8.0).abs() < 0.6);
    }

    #[test]
    fn a_stuck_sensor_repeats_and_a_dropout_is_silent() {
        let faulty = SensorSettings {
            stuck: Windows::none().and(1.0, 2.0),
            dropout: Windows::none().and(3.0, 4.0),
            ..SensorSettings::default()
        };
        let mut sensor = Sensor::new(&faulty, Noise::new(1, 1), 5.0, 5.0);
        let mut at = |t: f64| sensor.read(t);
        assert!(!at(0.9).faulty);
        let (first, second) = (at(1.0), at(1.5));
        assert!(first.sample == second.sample && first.faulty);
        let (after, gone) = (at(2.0), at(3.5));
        assert!(!after.faulty && gone.sample.is_none() && gone.faulty);
    }
}
