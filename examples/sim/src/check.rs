//! Ranges by which settings are refused.

use crate::error::{Problem, ScenarioError};

/// Refuses values outside `least..=most`; what is no number counts as too small.
pub(crate) fn within(
    parameter: &'static str,
    value: f64,
    least: f64,
    most: f64,
) -> Result<(), ScenarioError> {
    if value.is_nan() || value < least {
        let problem = if least == 0.0 { Problem::Negative } else { Problem::TooSmall };
        return Err(ScenarioError::new(parameter, problem));
    }
    if value > most {
        return Err(ScenarioError::new(parameter, Problem::TooLarge));
    }
    Ok(())
}

/// Refuses what is not above zero, or lies above `most`.
pub(crate) fn positive(
    parameter: &'static str,
    value: f64,
    most: f64,
) -> Result<(), ScenarioError> {
    if value.is_nan() || value <= 0.0 {
        return Err(ScenarioError::new(parameter, Problem::NotPositive));
    }
    within(parameter, value, 0.0, most)
}
