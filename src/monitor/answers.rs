//! What a monitor answers at any time, between two samples.

use super::{Monitor, Settings};
use crate::alarm::{AlarmsState, Condition};
use crate::leak::LeakConsistency;
use crate::quantity::{Duration, Instant};
use crate::trend::{LoadVerdict, NoVerdict, TrendState};
use crate::trigger::{
    Synchrony, ThresholdAdvice, ThresholdEvidence, ThresholdJudgement, ThresholdOutlook,
};

/// Whether the infant breathes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Breathing {
    /// Breaths were drawn within the time of the apnoea alarm.
    Breathes,
    /// None was for as long.
    Apnoea,
    /// Nothing usable comes from the sensor, or the circuit stands open.
    CannotTell,
}

impl Monitor {
    /// The settings it works by.
    #[must_use]
    pub const fn settings(&self) -> &Settings {
        &self.settings
    }

    /// The minutes of the present step.
    #[must_use]
    pub const fn trend(&self) -> &TrendState {
        &self.breath.trend
    }

    /// What is made of the present step: of load alone, and only as advice. Cannot be told while no
    /// input rings: what was told before does not stand for an infant whom nobody hears.
    #[must_use]
    pub fn verdict(&self) -> LoadVerdict {
        if self.breath.alarms.is_on(Condition::NoInput) {
            return LoadVerdict::CannotTell(NoVerdict::NoInput);
        }
        self.breath.load.verdict()
    }

    /// Counts of causes, missed efforts and double triggers, and trigger delays.
    #[must_use]
    pub const fn synchrony(&self) -> &Synchrony {
        &self.breath.synchrony
    }

    /// Whether the learned leak explains the flow, or the sensor's zero has drifted.
    #[must_use]
    pub const fn leak_fit(&self) -> LeakConsistency {
        self.sample.zero.fit()
    }

    /// The alarms that ring, and those that were acknowledged.
    #[must_use]
    pub const fn alarms(&self) -> &AlarmsState {
        &self.breath.alarms
    }

    /// What the time under the threshold that is set, and its worst stretch, say of it; `None` where no
    /// threshold is set.
    #[must_use]
    pub fn threshold_judgement(&self) -> Option<ThresholdJudgement> {
        let threshold = self.settings.machine().threshold?;
        let (grid, breath) = (&self.settings.grid, &self.breath);
        let evidence = ThresholdEvidence {
            threshold,
            tally: &breath.triggered,
            missed_at_least: breath.advice.of(grid, threshold.flow()).missed_at_least,
            advice: self.threshold_advice(),
            floor: breath.floor.floor(),
            is_zero_off: matches!(self.leak_fit(), LeakConsistency::Drift(_)),
            step: grid.step(),
            ripple: self.listeners.ripple(),
        };
        Some(evidence.judge())
    }

    /// Which threshold of the grid stands between floor and effort.
    #[must_use]
    pub fn threshold_advice(&self) -> ThresholdAdvice {
        self.breath.advice.advise(&self.settings.grid, self.breath.floor.floor())
    }

    /// What each threshold of the grid would mean.
    pub fn threshold_table(&self) -> impl Iterator<Item = ThresholdOutlook> + '_ {
        self.breath.advice.table(&self.settings.grid)
    }

    /// A moment of the samples' own time on the monitor's, which goes on where that is set back: the time
    /// of its alarms.
    #[must_use]
    pub fn time_of(&self, own: Instant) -> Instant {
        self.hearing.of(own)
    }

    /// For how long nothing usable has come from the sensor.
    #[must_use]
    pub fn blind(&self) -> Duration {
        self.hearing.blind()
    }

    /// Whether the infant breathes, as far as the apnoea alarm can tell now. That it does not ring says
    /// nothing while nothing usable comes from the sensor.
    #[must_use]
    pub fn breathing(&self) -> Breathing {
        let alarms = &self.breath.alarms;
        if alarms.is_on(Condition::SensorFault) || alarms.is_on(Condition::NoInput) {
            Breathing::CannotTell
        } else if alarms.is_on(Condition::Apnoea) {
            Breathing::Apnoea
        } else if self.sample.circuit.is_open() {
            Breathing::CannotTell
        } else {
            Breathing::Breathes
        }
    }
}
