//! Which conditions ring, one flag each.

use super::condition::MEASURES;
use super::{Condition, LimitState};
use crate::quantity::arith;
use crate::record;

record! {
    /// A flag for every condition. Two of them compare at once, which is what happens at every tick at
    /// which nothing has changed.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Rings(u32);
}

impl Rings {
    /// Apnoea, disconnection and the sensor; and the limits in the order of the measures.
    pub(super) fn of(
        [apnoea, disconnection, sensor]: [bool; 3],
        limits: [&LimitState; MEASURES],
    ) -> Self {
        let mut flags = 0;
        // From the last condition to the first, so that each ends at the place of its index.
        for limit in limits.iter().rev() {
            flags = arith::push_bit(flags, limit.is_missing());
        }
        for limit in limits.iter().rev() {
            flags = arith::push_bit(flags, limit.is_high());
        }
        for limit in limits.iter().rev() {
            flags = arith::push_bit(flags, limit.is_low());
        }
        for on in [sensor, disconnection, apnoea] {
            flags = arith::push_bit(flags, on);
        }
        Self(flags)
    }

    /// Whether a condition rings.
    pub(super) const fn has(self, condition: Condition) -> bool {
        self.0 & arith::bit(condition.index()) != 0
    }

    /// Says whether a condition rings.
    pub(super) const fn set(&mut self, condition: Condition, on: bool) {
        let bit = arith::bit(condition.index());
        self.0 = if on { self.0 | bit } else { self.0 & !bit };
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

    #[test]
    fn states_come_to_their_flags() {
        let state = LimitState::default();
        let quiet = [&state; MEASURES];
        for (i, condition) in [Condition::Apnoea, Condition::Disconnection, Condition::SensorFault]
            .into_iter()
            .enumerate()
        {
            let mut single = [false; 3];
            single[i] = true;
            let mut only = Rings::default();
            only.set(condition, true);
            assert_eq!(Rings::of(single, quiet), only);
        }
        assert_eq!(Rings::of([false; 3], quiet), Rings::default());
    }
}
