//! Which priority each condition has.

use super::condition::CONDITIONS;
use super::{Condition, Measure, Priority};
use crate::quantity::const_default;
use crate::record;

record! {
/// A priority for every condition. IEC 60601-1-8 defines the priorities but not which conditions
/// must alarm nor how high, so the table can be changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Priorities([Priority; CONDITIONS]);
}

const_default! {
    /// High where gas exchange may have stopped, pressure may harm or nothing is watched, low for leak,
    /// rate high and what cannot be known, medium else: common practice, no source.
    Priorities: {
        let mut table = [Priority::Medium; CONDITIONS];
        let mut places: &mut [Priority] = &mut table;
        let mut index = 0_usize;
        while let [place, others @ ..] = places {
            if let Some(condition) = Condition::at(index) {
                *place = usual(condition);
            }
            (places, index) = (others, index.saturating_add(1));
        }
        Self(table)
    }
}

const fn usual(condition: Condition) -> Priority {
    match condition {
        Condition::Apnoea
        | Condition::Disconnection
        | Condition::NoInput
        | Condition::Low(Measure::MinuteVolume)
        | Condition::High(Measure::Pressure) => Priority::High,
        Condition::SensorFault | Condition::Low(_) | Condition::High(Measure::Volume(_)) => {
            Priority::Medium
        }
        Condition::High(Measure::MinuteVolume) => Priority::Medium,
        Condition::High(Measure::Rate | Measure::Leak) | Condition::CannotKnow(_) => Priority::Low,
    }
}

impl Priorities {
    /// The same table with one condition changed.
    #[must_use]
    pub fn with(mut self, condition: Condition, priority: Priority) -> Self {
        if let Some(place) = self.0.get_mut(condition.index()) {
            *place = priority;
        }
        self
    }

    /// The priority of a condition.
    #[must_use]
    pub fn of(&self, condition: Condition) -> Priority {
        self.0.get(condition.index()).copied().unwrap_or(Priority::High)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_place_can_be_changed_alone() {
        let usual = Priorities::default();
        assert_eq!(usual.of(Condition::Apnoea), Priority::High);
        for condition in Condition::all() {
            let changed = usual.with(condition, Priority::Low);
            for other in Condition::all() {
                let expected = if other == condition { Priority::Low } else { usual.of(other) };
                assert_eq!(changed.of(other), expected);
            }
        }
    }
}
