//! Gas drawn out of the trachea by a catheter through the tube, the circuit closed.

use crate::check::within;
use crate::error::ScenarioError;
use crate::schedule::Windows;

/// A catheter with a vacuum at its other end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SuctionSettings {
    /// Windows with suction.
    pub when: Windows,
    /// Vacuum below ambient pressure in cmH2O, 10 to 250; 80 to 100 mmHg are 109 to 136 (common practice, no
    /// source).
    pub vacuum: f64,
    /// Flow that it draws with its tip in the open air in mL/s, 1 to 500.
    pub flow: f64,
    /// Factor on the pressure lost in the tube around it, 1 to 20.
    pub narrowing: f64,
}

impl SuctionSettings {
    pub(crate) fn check(&self) -> Result<(), ScenarioError> {
        self.when.check("suction.when")?;
        within("suction.vacuum", self.vacuum, 10.0, 250.0)?;
        within("suction.flow", self.flow, 1.0, 500.0)?;
        within("suction.narrowing", self.narrowing, 1.0, 20.0)
    }

    /// The catheter at a time.
    pub(crate) fn at(settings: Option<Self>, seconds: f64) -> Catheter {
        settings.filter(|s| s.when.contains(seconds)).map_or(Catheter::NONE, |s| Catheter {
            conductance: s.flow / s.vacuum,
            vacuum: s.vacuum,
            narrowing: s.narrowing,
        })
    }
}

/// A straight one: it draws `conductance × (tracheal pressure + vacuum)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Catheter {
    /// (mL/s)/cmH2O
    pub(crate) conductance: f64,
    /// cmH2O
    pub(crate) vacuum: f64,
    pub(crate) narrowing: f64,
}

impl Catheter {
    pub(crate) const NONE: Self = Self { conductance: 0.0, vacuum: 0.0, narrowing: 1.0 };

    pub(crate) fn is_in(&self) -> bool {
        self.conductance > 0.0
    }

    /// Flow into it at a tracheal pressure, mL/s.
    pub(crate) fn flow(&self, trachea: f64) -> f64 {
        self.conductance * (trachea + self.vacuum)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn settings() -> SuctionSettings {
        let when = Windows::none().and(10.0, 15.0);
        SuctionSettings { when, vacuum: 100.0, flow: 50.0, narrowing: 3.0 }
    }

    #[test]
    fn it_draws_in_its_window_by_the_pressure_across_it() {
        // 50 mL/s by 100 cmH2O: 0.5 for each; at 5 cmH2O 105 × 0.5.
        let catheter = SuctionSettings::at(Some(settings()), 12.0);
        assert!(catheter.is_in() && (catheter.flow(5.0) - 52.5).abs() < 1e-12);
        assert!((catheter.flow(0.0) - 50.0).abs() < 1e-12);
        assert_eq!(SuctionSettings::at(Some(settings()), 15.0), Catheter::NONE);
        assert_eq!(Catheter::NONE.flow(20.0), 0.0);
    }

    #[test]
    fn each_wrong_setting_is_named() {
        let named = |wrong: SuctionSettings| wrong.check().map_err(|e| e.parameter);
        let right = settings();
        assert_eq!(named(right), Ok(()));
        let inverted = Windows::none().and(2.0, 1.0);
        for (wrong, name) in [
            (SuctionSettings { when: inverted, ..right }, "suction.when"),
            (SuctionSettings { vacuum: 9.0, ..right }, "suction.vacuum"),
            (SuctionSettings { flow: 501.0, ..right }, "suction.flow"),
            (SuctionSettings { narrowing: 0.5, ..right }, "suction.narrowing"),
        ] {
            assert_eq!(named(wrong), Err(name));
        }
    }
}
