//! All settings together, and what is refused.

use crate::check::within;
use crate::effort::EffortSettings;
use crate::error::{Problem, ScenarioError};
use crate::leak::LeakSettings;
use crate::lung::LungSettings;
use crate::machine::VentilatorSettings;
use crate::opening::OpeningSettings;
use crate::sensor::SensorSettings;
use crate::suction::SuctionSettings;
use crate::time::INNER_US;
use crate::tube::TubeSettings;

/// Shortest and longest sampling period, µs: 1 000 to 50 Hz.
const PERIODS: core::ops::RangeInclusive<u32> = 1_000..=20_000;

/// Everything about one simulated recording.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scenario {
    /// Where the noise and the jitter start: the same seed gives the same bits.
    pub seed: u64,
    /// Time between samples in µs, 1 000 (1 000 Hz) to 20 000 (50 Hz).
    pub period_us: u32,
    /// Smallest volume that counts as a breath in mL, 0.01 to 100; a breath must also have 5 % of
    /// the usual volume.
    pub smallest_breath: f64,
    /// The lung.
    pub lung: LungSettings,
    /// The tube.
    pub tube: TubeSettings,
    /// The leak.
    pub leak: LeakSettings,
    /// Suction through the tube.
    pub suction: Option<SuctionSettings>,
    /// A circuit that comes apart.
    pub opening: Option<OpeningSettings>,
    /// The infant's own efforts.
    pub effort: EffortSettings,
    /// The machine.
    pub machine: VentilatorSettings,
    /// The sensor.
    pub sensor: SensorSettings,
}

impl Default for Scenario {
    /// A calm infant of about 1.1 kg on a machine that follows every effort, without leak.
    fn default() -> Self {
        Self {
            seed: 1,
            period_us: 10_000,
            smallest_breath: 0.4,
            lung: LungSettings::default(),
            tube: TubeSettings::default(),
            leak: LeakSettings::default(),
            suction: None,
            opening: None,
            effort: EffortSettings::default(),
            machine: VentilatorSettings::default(),
            sensor: SensorSettings::default(),
        }
    }
}

impl Scenario {
    /// Whether every setting can be simulated.
    ///
    /// # Errors
    /// The first setting outside its range, by its path from here (such as `machine.set_rate`).
    pub fn validate(&self) -> Result<(), ScenarioError> {
        if self.period_us < *PERIODS.start() {
            return Err(ScenarioError::new("period_us", Problem::TooSmall));
        }
        if self.period_us > *PERIODS.end() {
            return Err(ScenarioError::new("period_us", Problem::TooLarge));
        }
        within("smallest_breath", self.smallest_breath, 0.01, 100.0)?;
        self.lung.check()?;
        self.tube.check()?;
        self.leak.check()?;
        if let Some(suction) = &self.suction {
            suction.check()?;
        }
        if let Some(opening) = &self.opening {
            opening.check()?;
        }
        self.effort.check()?;
        self.machine.check()?;
        self.check_supply()?;
        self.sensor.check()
    }

    /// Hoses that give their gas up within an inner step would ring against the lung.
    fn check_supply(&self) -> Result<(), ScenarioError> {
        let Some(supply) = self.machine.supply else { return Ok(()) };
        if self.lung.conductance() * f64::from(INNER_US) / 1e6 > supply.compliance {
            return Err(ScenarioError::new("machine.supply.compliance", Problem::Contradiction));
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::leak::LeakModel;
    use crate::schedule::{Schedule, Windows};
    use crate::supply::SupplySettings;
    use crate::trigger::Trigger;

    const HOSES: SupplySettings = SupplySettings { resistance: 0.05, compliance: 0.4 };

    #[test]
    fn each_wrong_setting_is_named() {
        let right = Scenario::default();
        assert_eq!(right.validate(), Ok(()));
        let wrong = |change: fn(&mut Scenario)| {
            let mut scenario = right;
            change(&mut scenario);
            scenario.validate().map_err(|e| (e.parameter, e.problem))
        };
        let cases: [(fn(&mut Scenario), _, _); 16] = [
            (|s| s.period_us = 999, "period_us", Problem::TooSmall),
            (|s| s.period_us = 20_001, "period_us", Problem::TooLarge),
            (|s| s.smallest_breath = 0.0, "smallest_breath", Problem::TooSmall),
            (|s| s.lung.main.compliance = 0.0, "lung.compliance", Problem::NotPositive),
            // 1 cmH2O/(L/s) × 0.4 mL/cmH2O = 0.4 ms
            (
                |s| s.lung = LungSettings::single(1.0, 0.4),
                "lung.resistance",
                Problem::Contradiction,
            ),
            (|s| s.tube.square = f64::NAN, "tube.square", Problem::Negative),
            (|s| s.leak.size = Schedule::constant(-1.0), "leak.size", Problem::Negative),
            (|s| s.leak.model = LeakModel::OpensAbove(61.0), "leak.model", Problem::TooLarge),
            (|s| s.effort.duration = 0.0, "effort.duration", Problem::NotPositive),
            (
                |s| s.machine.baseline = s.machine.baseline.then(9.0, 15.0),
                "machine.peak",
                Problem::Contradiction,
            ),
            // 150 a minute of 0.4 s each leave no time to breathe out
            (
                |s| {
                    s.machine.inspiratory_time = 0.4;
                    s.machine.set_rate = Schedule::constant(150.0);
                },
                "machine.set_rate",
                Problem::Contradiction,
            ),
            (
                |s| s.machine.trigger = Trigger::Pressure(0.5),
                "machine.trigger",
                Problem::Contradiction,
            ),
            (
                |s| {
                    s.machine.trigger = Trigger::Pressure(0.5);
                    s.machine.supply = Some(HOSES);
                    s.machine.bubbles = Schedule::constant(0.0).then(9.0, 1.0);
                },
                "machine.trigger",
                Problem::Contradiction,
            ),
            // 1 cmH2O/(L/s): 1 000 (mL/s)/cmH2O × 0.5 ms = 0.5 mL/cmH2O
            (
                |s| {
                    s.lung = LungSettings::single(1.0, 40.0);
                    s.machine.supply = Some(HOSES);
                },
                "machine.supply.compliance",
                Problem::Contradiction,
            ),
            (|s| s.sensor.gain = 0.0, "sensor.gain", Problem::TooSmall),
            (|s| s.sensor.stuck = Windows::none().and(5.0, 4.0), "sensor.stuck", Problem::Inverted),
        ];
        for (change, parameter, problem) in cases {
            assert_eq!(wrong(change), Err((parameter, problem)));
        }
    }
}
