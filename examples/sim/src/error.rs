//! What is wrong with a setting of a scenario, and with which one.

use core::fmt;

/// A setting was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ScenarioError {
    /// The setting's path from the scenario, such as `machine.set_rate`.
    pub parameter: &'static str,
    /// What is wrong with it.
    pub problem: Problem,
}

/// Ways in which a setting can be wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Problem {
    /// Must be above zero.
    NotPositive,
    /// Must not be below zero.
    Negative,
    /// Below the smallest allowed value.
    TooSmall,
    /// Above the largest allowed value.
    TooLarge,
    /// The lower end of a pair does not lie below its upper end.
    Inverted,
    /// Times that must rise do not.
    NotRising,
    /// Contradicts another setting.
    Contradiction,
}

impl ScenarioError {
    pub(crate) const fn new(parameter: &'static str, problem: Problem) -> Self {
        Self { parameter, problem }
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::NotPositive => "must be above zero",
            Self::Negative => "must not be below zero",
            Self::TooSmall => "is too small",
            Self::TooLarge => "is too large",
            Self::Inverted => "must end after it begins",
            Self::NotRising => "must rise",
            Self::Contradiction => "contradicts another setting",
        })
    }
}

impl fmt::Display for ScenarioError {
    /// The setting and what is wrong with it.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.parameter, self.problem)
    }
}

impl core::error::Error for ScenarioError {}
