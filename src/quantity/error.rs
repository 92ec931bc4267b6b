//! What is wrong with a setting, and with which one.

use core::fmt;

/// A setting was refused. Flat and `Copy`, so it costs nothing to pass around.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct SettingError {
    /// The parameter's name, with its unit where the constructor's own name carries that.
    pub parameter: &'static str,
    /// What is wrong with it.
    pub problem: Problem,
}

/// Ways in which a setting can be wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum Problem {
    /// Must be above zero.
    NotPositive,
    /// Must not be below zero.
    Negative,
    /// Below the smallest allowed value.
    TooSmall,
    /// Above the largest allowed value.
    TooLarge,
    /// The lower end of a pair lies above its upper end.
    Inverted,
    /// Points that must rise do not.
    NotRising,
    /// Fewer points than needed.
    TooFew,
    /// Contradicts another setting.
    Contradiction,
}

impl SettingError {
    pub(crate) const fn new(parameter: &'static str, problem: Problem) -> Self {
        Self { parameter, problem }
    }

    /// Whether a value lies between two others, both included.
    pub(crate) fn within<T: PartialOrd>(
        parameter: &'static str,
        value: T,
        least: T,
        most: T,
    ) -> Result<(), Self> {
        if value < least {
            Err(Self::new(parameter, Problem::TooSmall))
        } else if value > most {
            Err(Self::new(parameter, Problem::TooLarge))
        } else {
            Ok(())
        }
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::NotPositive => "must be above zero",
            Self::Negative => "must not be negative",
            Self::TooSmall => "is below the smallest allowed value",
            Self::TooLarge => "is above the largest allowed value",
            Self::Inverted => "has its lower end above its upper end",
            Self::NotRising => "must rise from point to point",
            Self::TooFew => "needs more points",
            Self::Contradiction => "contradicts another setting",
        })
    }
}

impl fmt::Display for SettingError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.parameter, self.problem)
    }
}

impl core::error::Error for SettingError {}
