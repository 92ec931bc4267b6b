//! Which conditions ring, one flag each.

use super::condition::MEASURES;
use super::{Condition, LimitState};

/// A flag for every condition. Two of them compare in a few instructions, which is what happens at
/// every tick at which nothing has changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct Rings {
    apnoea: bool,
    disconnection: bool,
    sensor: bool,
    low: [bool; MEASURES],
    high: [bool; MEASURES],
    missing: [bool; MEASURES],
}

impl Rings {
    /// Apnoea, disconnection and the sensor; and the limits in the order of the measures.
    pub(super) fn of(single: [bool; 3], limits: [&LimitState; MEASURES]) -> Self {
        let [apnoea, disconnection, sensor] = single;
        Self {
            apnoea,
            disconnection,
            sensor,
            low: limits.map(LimitState::is_low),
            high: limits.map(LimitState::is_high),
            missing: limits.map(LimitState::is_missing),
        }
    }

    /// Whether a condition rings.
    pub(super) fn has(&self, condition: Condition) -> bool {
        let mut all = *self;
        all.place(condition).is_some_and(|flag| *flag)
    }

    /// Says whether a condition rings.
    pub(super) fn set(&mut self, condition: Condition, on: bool) {
        if let Some(flag) = self.place(condition) {
            *flag = on;
        }
    }

    fn place(&mut self, condition: Condition) -> Option<&mut bool> {
        match condition {
            Condition::Apnoea => Some(&mut self.apnoea),
            Condition::Disconnection => Some(&mut self.disconnection),
            Condition::SensorFault => Some(&mut self.sensor),
            Condition::Low(measure) => self.low.get_mut(measure.index()),
            Condition::High(measure) => self.high.get_mut(measure.index()),
            Condition::CannotKnow(measure) => self.missing.get_mut(measure.index()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_condition_has_a_flag_of_its_own() {
        for condition in Condition::all() {
            let mut rings = Rings::default();
            rings.set(condition, true);
            for other in Condition::all() {
                assert_eq!(rings.has(other), other == condition);
            }
            rings.set(condition, false);
            assert_eq!(rings, Rings::default());
        }
    }
}
