//! Settings that a test was begun from.

use crate::quantity::{Pressure, Rate, Share};
use core::fmt;

/// The highest settings that a test was begun from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(crate) struct EntryLimits {
    oxygen: Share,
    peak: Pressure,
    rate: Rate,
}

/// Present settings, each `None` where it is not known. The oxygen is the user's to give.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(crate) struct Entry {
    /// Inspired oxygen, 0.21 to 1.
    pub oxygen: Option<Share>,
    /// Set peak pressure.
    pub peak: Option<Pressure>,
    /// Set rate.
    pub rate: Option<Rate>,
}

/// Each setting beside its limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub struct EntryReport {
    /// Inspired oxygen.
    pub oxygen: Met,
    /// Peak pressure.
    pub peak: Met,
    /// Rate.
    pub rate: Met,
}

/// Whether a setting is at or below its limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Met {
    /// It is.
    Met,
    /// It is not.
    NotMet,
    /// The setting is not known, or below what can be: oxygen under 0.2, the others under zero.
    NotKnown,
}

impl Default for EntryLimits {
    /// 0.35, 20 cmH2O and 20/min, from which the minute-volume ratio was tried (Pediatr Res 1998
    /// abstract, nature.com/articles/pr19981927).
    fn default() -> Self {
        Self {
            oxygen: Share::from_percent(35),
            peak: Pressure::from_int(20),
            rate: Rate::from_int(20),
        }
    }
}

impl EntryLimits {
    /// Holds settings against the limits; one equal to its limit meets it.
    #[must_use]
    pub(crate) fn check(&self, entry: &Entry) -> EntryReport {
        EntryReport {
            oxygen: met(entry.oxygen, Share::from_percent(20), self.oxygen),
            peak: met(entry.peak, Pressure::ZERO, self.peak),
            rate: met(entry.rate, Rate::ZERO, self.rate),
        }
    }
}

fn met<T: PartialOrd>(value: Option<T>, least: T, most: T) -> Met {
    match value {
        Some(value) if value >= least && value <= most => Met::Met,
        Some(value) if value > most => Met::NotMet,
        _ => Met::NotKnown,
    }
}

impl fmt::Display for Met {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Met => "met",
            Self::NotMet => "not met",
            Self::NotKnown => "not known",
        })
    }
}

impl fmt::Display for EntryReport {
    /// One line.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "oxygen {}, peak pressure {}, rate {}", self.oxygen, self.peak, self.rate)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::string::ToString;

    #[test]
    fn each_setting_beside_its_limit() {
        // Pediatr Res 1998 abstract (nature.com/articles/pr19981927): oxygen at most 0.35, peak at
        // most 20, rate at most 20.
        let at = Entry {
            oxygen: Some(Share::from_percent(35)),
            peak: Some(Pressure::from_int(20)),
            rate: Some(Rate::from_int(20)),
        };
        let limits = EntryLimits::default();
        let all = EntryReport { oxygen: Met::Met, peak: Met::Met, rate: Met::Met };
        assert_eq!(limits.check(&at), all);
        let above = Entry {
            oxygen: Some(Share::from_percent(36)),
            peak: Some(Pressure::from_milli(20_001).value),
            rate: None,
        };
        assert_eq!(
            limits.check(&above).to_string(),
            "oxygen not met, peak pressure not met, rate not known"
        );
        // Oxygen in percent where a share is asked for, or none at all, is no entry.
        let odd = |oxygen| limits.check(&Entry { oxygen: Some(oxygen), ..at }).oxygen;
        assert_eq!((odd(Share::ZERO), odd(Share::from_int(35))), (Met::NotKnown, Met::NotMet));
    }
}
