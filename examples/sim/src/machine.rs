//! Settings of the machine.

use crate::adapting::AdaptingSettings;
use crate::backup::BackupSettings;
use crate::check::{positive, within};
use crate::error::{Problem, ScenarioError};
use crate::schedule::Schedule;
use crate::supply::SupplySettings;
use crate::trigger::Trigger;

/// When the machine inflates.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Pattern {
    /// By the clock alone, at the set rate.
    Timed,
    /// At every trigger; by the clock where none comes for a period of the set rate.
    EveryBreath,
    /// At the set rate, each time in step with a trigger in the window before the due time, else
    /// at the due time. Breaths between are the infant's own, helped by support pressure if set.
    SetRate,
}

/// A pressure-controlled machine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct VentilatorSettings {
    /// When the machine inflates, over time.
    pub pattern: Schedule<Pattern>,
    /// Pressure between inflations in cmH2O over time, 0 to 30.
    pub baseline: Schedule,
    /// Pressure of a full inflation in cmH2O over time, above the baseline to 80.
    pub peak: Schedule,
    /// Length of a full inflation in s, 0.1 to 5.
    pub inspiratory_time: f64,
    /// Set rate per minute over time, 0 to 150; 0 for none.
    pub set_rate: Schedule,
    /// Time constant of every change of pressure in s, 0 (square) to 0.5.
    pub rise_time: f64,
    /// A valve that overshoots: its own frequency in Hz (3 to 30) and its damping (0.2 to 1); in place of
    /// the rise time.
    pub ringing: Option<(f64, f64)>,
    /// How far bubbles move the pressure in cmH2O over time, 0 to 5: 5 to 11 swings a second.
    pub bubbles: Schedule,
    /// What the machine listens to.
    pub trigger: Trigger,
    /// Hoses that yield between its valve and the sensor.
    pub supply: Option<SupplySettings>,
    /// Trigger threshold in mL/s of flow at the sensor over time, 0.1 to 200.
    pub threshold: Schedule,
    /// From passing the threshold to the inflation in s, 0 to 0.5.
    pub trigger_delay: f64,
    /// From the end of an inflation to the next possible trigger in s, 0 to 2.
    pub refractory: f64,
    /// Share of its own leak estimate that the trigger takes off the flow, 0 to 1. The estimate is
    /// mean flow over mean pressure, times the pressure now.
    pub leak_compensation: f64,
    /// Time constant of those means in s, 0.1 to 60.
    pub compensation_lag: f64,
    /// With [`Pattern::SetRate`]: the window as a share of the period before the due time, 0 to 1.
    pub window: f64,
    /// Pressure above baseline for own breaths in cmH2O over time, 0 to 40; 0 for none.
    pub support: Schedule,
    /// Support ends where flow falls below this share of its peak, 0.01 to 0.9.
    pub support_ends_at: f64,
    /// Support ends after this time in s at the latest, 0.1 to 5.
    pub support_limit: f64,
    /// Inflations by the clock while no trigger comes, beside the set rate and in every pattern.
    pub backup: Option<BackupSettings>,
    /// A peak that follows a volume, below the one set.
    pub adapting: Option<AdaptingSettings>,
}

impl Default for VentilatorSettings {
    /// Every effort gets an inflation of 15 over 5 cmH2O for 0.35 s; 40 a minute behind it.
    fn default() -> Self {
        Self {
            pattern: Schedule::constant(Pattern::EveryBreath),
            baseline: Schedule::constant(5.0),
            peak: Schedule::constant(15.0),
            inspiratory_time: 0.35,
            set_rate: Schedule::constant(40.0),
            rise_time: 0.025,
            ringing: None,
            bubbles: Schedule::constant(0.0),
            trigger: Trigger::Flow,
            supply: None,
            threshold: Schedule::constant(4.0),
            trigger_delay: 0.02,
            refractory: 0.2,
            leak_compensation: 0.0,
            compensation_lag: 5.0,
            window: 0.4,
            support: Schedule::constant(0.0),
            support_ends_at: 0.15,
            support_limit: 0.5,
            backup: None,
            adapting: None,
        }
    }
}

impl VentilatorSettings {
    pub(crate) fn check(&self) -> Result<(), ScenarioError> {
        self.pattern.check_times("machine.pattern")?;
        self.baseline.check("machine.baseline", 0.0, 30.0)?;
        self.peak.check("machine.peak", 0.0, 80.0)?;
        if self.peak.values().any(|p| self.baseline.values().any(|b| p <= b)) {
            return Err(ScenarioError::new("machine.peak", Problem::Contradiction));
        }
        within("machine.inspiratory_time", self.inspiratory_time, 0.1, 5.0)?;
        self.set_rate.check("machine.set_rate", 0.0, 150.0)?;
        if self.set_rate.values().any(|rate| rate * self.inspiratory_time >= 60.0) {
            return Err(ScenarioError::new("machine.set_rate", Problem::Contradiction));
        }
        within("machine.rise_time", self.rise_time, 0.0, 0.5)?;
        if let Some((frequency, damping)) = self.ringing {
            within("machine.ringing", frequency, 3.0, 30.0)?;
            within("machine.ringing", damping, 0.2, 1.0)?;
        }
        self.bubbles.check("machine.bubbles", 0.0, 5.0)?;
        self.trigger.check()?;
        if let Some(supply) = &self.supply {
            supply.check()?;
        }
        let bubbling = self.bubbles.values().any(|p| p > 0.0);
        if matches!(self.trigger, Trigger::Pressure(_)) && (self.supply.is_none() || bubbling) {
            return Err(ScenarioError::new("machine.trigger", Problem::Contradiction));
        }
        self.threshold.check("machine.threshold", 0.1, 200.0)?;
        within("machine.trigger_delay", self.trigger_delay, 0.0, 0.5)?;
        within("machine.refractory", self.refractory, 0.0, 2.0)?;
        within("machine.leak_compensation", self.leak_compensation, 0.0, 1.0)?;
        positive("machine.compensation_lag", self.compensation_lag, 60.0)?;
        within("machine.compensation_lag", self.compensation_lag, 0.1, 60.0)?;
        within("machine.window", self.window, 0.0, 1.0)?;
        self.support.check("machine.support", 0.0, 40.0)?;
        within("machine.support_ends_at", self.support_ends_at, 0.01, 0.9)?;
        within("machine.support_limit", self.support_limit, 0.1, 5.0)?;
        if let Some(adapting) = &self.adapting {
            adapting.check()?;
        }
        if let Some(backup) = &self.backup {
            backup.check()?;
            if backup.rate * self.inspiratory_time >= 60.0 {
                return Err(ScenarioError::new("machine.backup.rate", Problem::Contradiction));
            }
        }
        Ok(())
    }
}
