//! Values that change in steps over the run, and windows of time.

use crate::check::within;
use crate::error::{Problem, ScenarioError};

/// Most steps after the first value, and most windows.
const PLACES: usize = 8;
/// The longest run that can be scheduled, s: a week.
const LONGEST: f64 = 604_800.0;

/// A value over time: constant, then up to eight steps. Times are seconds from the start of the
/// run; a step is taken at the first sample at or after its time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Schedule<T = f64> {
    first: T,
    steps: [(f64, T); PLACES],
    used: usize,
}

impl<T: Copy> Schedule<T> {
    /// One value for the whole run.
    #[must_use]
    pub const fn constant(value: T) -> Self {
        Self { first: value, steps: [(0.0, value); PLACES], used: 0 }
    }

    /// The same, and from `seconds` on another value. Times must rise; a ninth step is refused
    /// when the scenario is checked.
    #[must_use]
    pub fn then(mut self, seconds: f64, value: T) -> Self {
        if let Some(slot) = self.steps.get_mut(self.used) {
            *slot = (seconds, value);
        }
        self.used = self.used.saturating_add(1);
        self
    }

    /// The value at a time in seconds.
    #[must_use]
    pub fn at(&self, seconds: f64) -> T {
        let mut value = self.first;
        for (from, next) in self.steps.iter().take(self.used) {
            if seconds < *from {
                break;
            }
            value = *next;
        }
        value
    }
}

impl<T: Copy> Schedule<T> {
    /// Every value it takes.
    pub(crate) fn values(&self) -> impl Iterator<Item = T> {
        core::iter::once(self.first).chain(self.steps.iter().take(self.used).map(|s| s.1))
    }

    pub(crate) fn check_times(&self, parameter: &'static str) -> Result<(), ScenarioError> {
        if self.used > PLACES {
            return Err(ScenarioError::new(parameter, Problem::TooLarge));
        }
        let mut last = 0.0;
        for (from, _) in self.steps.iter().take(self.used) {
            within(parameter, *from, 0.0, LONGEST)?;
            if *from <= last {
                return Err(ScenarioError::new(parameter, Problem::NotRising));
            }
            last = *from;
        }
        Ok(())
    }
}

impl Schedule<f64> {
    pub(crate) fn check(
        &self,
        parameter: &'static str,
        least: f64,
        most: f64,
    ) -> Result<(), ScenarioError> {
        self.check_times(parameter)?;
        self.values().try_for_each(|value| within(parameter, value, least, most))
    }
}

/// Up to eight windows of time, each from a first second up to (not including) a last.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Windows {
    spans: [(f64, f64); PLACES],
    used: usize,
}

impl Windows {
    /// No window.
    #[must_use]
    pub const fn none() -> Self {
        Self { spans: [(0.0, 0.0); PLACES], used: 0 }
    }

    /// The same and one window more, in seconds from the start of the run. A ninth is refused when
    /// the scenario is checked.
    #[must_use]
    pub fn and(mut self, from: f64, to: f64) -> Self {
        if let Some(slot) = self.spans.get_mut(self.used) {
            *slot = (from, to);
        }
        self.used = self.used.saturating_add(1);
        self
    }

    /// Whether a time in seconds lies in a window.
    #[must_use]
    pub fn contains(&self, seconds: f64) -> bool {
        self.spans.iter().take(self.used).any(|(from, to)| seconds >= *from && seconds < *to)
    }

    pub(crate) fn check(&self, parameter: &'static str) -> Result<(), ScenarioError> {
        if self.used > PLACES {
            return Err(ScenarioError::new(parameter, Problem::TooLarge));
        }
        self.spans.iter().take(self.used).try_for_each(|(from, to)| {
            within(parameter, *from, 0.0, LONGEST)?;
            within(parameter, *to, 0.0, LONGEST)?;
            if to <= from {
                return Err(ScenarioError::new(parameter, Problem::Inverted));
            }
            Ok(())
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_hold_from_their_time_on() {
        // Derived here: the definition of a step.
        let plan = Schedule::constant(40.0).then(10.0, 30.0).then(20.0, 0.0);
        assert_eq!(
            [9.999, 10.0, 19.0, 20.0, 1e6].map(|t| plan.at(t)),
            [40.0, 30.0, 30.0, 0.0, 0.0]
        );
        assert_eq!(plan.check("rate", 0.0, 40.0), Ok(()));
        assert_eq!(plan.check("rate", 0.0, 39.0).map_err(|e| e.problem), Err(Problem::TooLarge));
        let back = plan.then(5.0, 1.0);
        assert_eq!(back.check("rate", 0.0, 40.0).map_err(|e| e.problem), Err(Problem::NotRising));
    }

    #[test]
    fn a_ninth_step_is_refused_not_lost() {
        let eight = (1..=8).fold(Schedule::constant(0.0), |s, i| s.then(f64::from(i), 1.0));
        assert!(eight.check("x", 0.0, 1.0).is_ok());
        assert!(eight.then(9.0, 1.0).check("x", 0.0, 1.0).is_err());
        let windows = (1..=8).fold(Windows::none(), |w, i| w.and(f64::from(i), f64::from(i) + 0.5));
        assert!(windows.check("x").is_ok());
        assert!(windows.and(9.0, 10.0).check("x").is_err());
        assert!(windows.contains(8.0) && !windows.contains(8.5));
        assert!(Windows::none().and(2.0, 2.0).check("x").is_err());
    }
}
