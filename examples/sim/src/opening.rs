//! A circuit that has come apart.

use crate::error::ScenarioError;
use crate::schedule::Windows;

/// Resistance through which the machine drives gas into the room, cmH2O/(mL/s): 100 mL/s at 5 cmH2O. Chosen
/// here, no source.
const INTO_THE_ROOM: f64 = 0.05;

/// On which side of the sensor it is open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OpenAt {
    /// Toward the machine: the sensor stays on the tube and sees the infant breathe at ambient pressure.
    Machine,
    /// Toward the infant: the sensor stays on the circuit and sees what the machine drives into the room,
    /// without pressure.
    Infant,
}

/// When the circuit is open, and where. The infant breathes the room's air through the tube meanwhile, and
/// the machine goes on by what it sees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OpeningSettings {
    /// Windows with an open circuit.
    pub when: Windows,
    /// Where it is open.
    pub at: OpenAt,
}

impl OpeningSettings {
    pub(crate) fn check(&self) -> Result<(), ScenarioError> {
        self.when.check("opening.when")
    }
}

/// Where it is open at a time, if it is.
pub(crate) fn opening(settings: Option<OpeningSettings>, seconds: f64) -> Option<OpenAt> {
    settings.filter(|s| s.when.contains(seconds)).map(|s| s.at)
}

/// What the machine drives into the room at its pressure in cmH2O, mL/s.
pub(crate) fn into_the_room(pressure: f64) -> f64 {
    pressure / INTO_THE_ROOM
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::error::Problem;

    #[test]
    fn it_is_open_in_its_window() {
        let settings = OpeningSettings { when: Windows::none().and(3.0, 5.0), at: OpenAt::Infant };
        let at = |t| opening(Some(settings), t);
        assert_eq!([2.9, 3.0, 5.0].map(at), [None, Some(OpenAt::Infant), None]);
        assert_eq!(opening(None, 4.0), None);
        // 15 ÷ 0.05
        assert!((into_the_room(15.0) - 300.0).abs() < 1e-9);
        let inverted = OpeningSettings { when: Windows::none().and(5.0, 3.0), ..settings };
        assert_eq!(inverted.check(), Err(ScenarioError::new("opening.when", Problem::Inverted)));
    }
}
