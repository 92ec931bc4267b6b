//! The pressures of a full inflation, and the grid on which a pressure can be set.

use crate::quantity::{Pressure, Problem, Saturated, SettingError};

const MOST_BASELINE: Pressure = Pressure::from_int(30);
const MOST_PEAK: Pressure = Pressure::from_int(80);

/// Peak and baseline pressure of an inflation that is not reduced.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Inflation {
    peak: Pressure,
    baseline: Pressure,
}

/// The steps in which a device sets pressure, from zero on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PressureGrid {
    /// Thousandths of a cmH2O, so that a step of 0.1 is exact.
    step_milli: u16,
}

impl Inflation {
    /// From a peak (at most 80 cmH2O, above the baseline) and a baseline (0 to 30 cmH2O).
    ///
    /// # Errors
    /// A parameter outside its range, or a peak that is not above the baseline.
    pub fn new(peak: Pressure, baseline: Pressure) -> Result<Self, SettingError> {
        SettingError::within("baseline", baseline, Pressure::ZERO, MOST_BASELINE)?;
        SettingError::within("peak", peak, Pressure::ZERO, MOST_PEAK)?;
        if peak <= baseline {
            return Err(SettingError::new("peak", Problem::Contradiction));
        }
        Ok(Self { peak, baseline })
    }

    /// The peak.
    #[must_use]
    pub const fn peak(&self) -> Pressure {
        self.peak
    }

    /// The baseline.
    #[must_use]
    pub const fn baseline(&self) -> Pressure {
        self.baseline
    }

    /// Peak less baseline; above zero, cannot clamp.
    #[must_use]
    pub(crate) const fn rise(&self) -> Pressure {
        self.peak.saturating_sub(self.baseline).value
    }
}

impl Default for PressureGrid {
    /// Whole cmH2O.
    fn default() -> Self {
        Self { step_milli: 1_000 }
    }
}

impl PressureGrid {
    /// From the step in thousandths of a cmH2O, 100 to 5 000 (0.1 to 5 cmH2O).
    ///
    /// # Errors
    /// `step_milli` outside that range.
    pub fn from_milli(step_milli: u16) -> Result<Self, SettingError> {
        SettingError::within("step_milli", step_milli, 100, 5_000)?;
        Ok(Self { step_milli })
    }

    /// The step; half away from zero to 1/65 536 cmH2O.
    #[must_use]
    pub fn step(self) -> Pressure {
        Pressure::from_milli(self.step_milli.into()).value
    }

    /// The setting nearest to a pressure. A pressure midway between two goes up, as does one that is
    /// 1/65 536 cmH2O short of midway: a decimal fraction may have lost that much. Two wide divides.
    pub fn nearest(self, pressure: Pressure) -> Saturated<Pressure> {
        pressure.on_grid(self.step_milli)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cmh2o(milli: i32) -> Pressure {
        Pressure::from_milli(milli).value
    }

    #[test]
    fn midway_goes_up() {
        // Common practice, no source: 12.8 shows as 13 and 9.6 as 10 on a step of 1; 10.5 as 11.
        // On 0.5: 10.25 as 10.5, 10.24 as 10.0. On 0.1: 6.45 as 6.5, of which the binary fraction
        // lies 0.6/65 536 short. On 0.3: 0.44 as 0.3, 0.45 as 0.6. Below zero: −0.5 as 0.
        for (step, at, want) in [
            (1_000, 12_800, 13_000),
            (1_000, 9_600, 10_000),
            (1_000, 10_500, 11_000),
            (1_000, 10_499, 10_000),
            (500, 10_250, 10_500),
            (500, 10_240, 10_000),
            (100, 6_450, 6_500),
            (300, 440, 300),
            (300, 450, 600),
            (1_000, -500, 0),
            (1_000, -501, -1_000),
        ] {
            let grid = PressureGrid::from_milli(step).unwrap();
            assert_eq!(grid.nearest(cmh2o(at)), Saturated::exact(cmh2o(want)), "{step} {at}");
        }
        assert_eq!(PressureGrid::default().step(), Pressure::from_int(1));
        // 32 767.99… is nearest to 32 768, which does not fit.
        assert!(PressureGrid::default().nearest(Pressure::MAX).saturated);
        assert!(!PressureGrid::default().nearest(Pressure::MIN).saturated);
    }

    #[test]
    fn settings_are_checked() {
        let wrong = |peak, baseline| {
            let made = Inflation::new(Pressure::from_int(peak), Pressure::from_int(baseline));
            made.map(|i| i.rise()).map_err(|e| (e.parameter, e.problem))
        };
        assert_eq!(wrong(20, 5), Ok(Pressure::from_int(15)));
        assert_eq!(wrong(5, 5), Err(("peak", Problem::Contradiction)));
        assert_eq!(wrong(20, -1), Err(("baseline", Problem::TooSmall)));
        assert_eq!(wrong(40, 31), Err(("baseline", Problem::TooLarge)));
        assert_eq!(wrong(81, 5), Err(("peak", Problem::TooLarge)));
        assert!(PressureGrid::from_milli(99).is_err() && PressureGrid::from_milli(5_001).is_err());
    }
}
