//! Which conditions ring, one flag each.

use super::condition::{CONDITIONS, MEASURES};
use super::{Condition, LimitState};
use crate::quantity::{arith, bitset};

bitset! {
    /// A member for every condition. Two sets compare at once, which is what happens at every tick at
    /// which nothing has changed.
    pub(super) struct ActiveSet(u32) of u32::MAX;
}

impl ActiveSet {
    /// Apnoea, disconnection, sensor fault and no input; and the limits in the order of the measures.
    pub(super) fn of(
        [apnoea, disconnection, sensor, no_input]: [bool; 4],
        limits: [&LimitState; MEASURES],
    ) -> Self {
        let mut rings = Self::NONE.pushed(no_input);
        // From the last condition to the first, so that each ends at the place of its index.
        for limit in limits.iter().rev() {
            rings = rings.pushed(limit.is_missing());
        }
        for limit in limits.iter().rev() {
            rings = rings.pushed(limit.is_high());
        }
        for limit in limits.iter().rev() {
            rings = rings.pushed(limit.is_low());
        }
        for on in [sensor, disconnection, apnoea] {
            rings = rings.pushed(on);
        }
        rings
    }

    const fn pushed(self, low: bool) -> Self {
        Self(arith::push_bit(self.0, low))
    }

    const fn one(condition: Condition) -> Self {
        Self(arith::bit(condition.index()))
    }

    /// What rings in one of two sets alone.
    pub(super) const fn differing(self, other: Self) -> Self {
        Self(self.0 ^ other.0)
    }

    /// Those in it, in the order of the tables.
    pub(super) fn conditions(self) -> impl Iterator<Item = Condition> {
        let here = move |index: &usize| self.has(Self(arith::bit(*index)));
        (0..CONDITIONS).filter(here).filter_map(Condition::at)
    }

    /// Whether a condition rings.
    pub(super) const fn rings(self, condition: Condition) -> bool {
        self.has(Self::one(condition))
    }

    /// Says whether a condition rings.
    pub(super) const fn set(&mut self, condition: Condition, on: bool) {
        let one = Self::one(condition);
        *self = if on { self.with(one) } else { Self(self.0 & !one.0) };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_condition_has_a_flag_of_its_own() {
        for condition in Condition::all() {
            let mut rings = ActiveSet::default();
            rings.set(condition, true);
            for other in Condition::all() {
                assert_eq!(rings.rings(other), other == condition);
            }
            rings.set(condition, false);
            assert_eq!(rings, ActiveSet::default());
        }
    }

    #[test]
    fn states_come_to_their_flags() {
        let state = LimitState::default();
        let quiet = [&state; MEASURES];
        use Condition::{Apnoea, Disconnection, NoInput, SensorFault};
        for (i, condition) in [Apnoea, Disconnection, SensorFault, NoInput].into_iter().enumerate()
        {
            let mut single = [false; 4];
            single[i] = true;
            let mut only = ActiveSet::default();
            only.set(condition, true);
            assert_eq!(ActiveSet::of(single, quiet), only);
        }
        assert_eq!(ActiveSet::of([false; 4], quiet), ActiveSet::default());
    }
}
