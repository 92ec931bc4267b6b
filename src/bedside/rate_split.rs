//! Which breaths get the support pressure and which the full peak.

use crate::quantity::Rate;

/// How many breaths a minute get which pressure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct RateSplit {
    /// Breaths with the full peak.
    pub full: Rate,
    /// Breaths with the support pressure.
    pub supported: Rate,
}

impl RateSplit {
    /// Shares a total rate out, set inflations included: the set rate gets the full peak, and the breaths
    /// beyond it the support pressure. Rates below zero count as zero, and a set rate above the total as
    /// the total. Cannot clamp.
    #[must_use]
    pub fn of(set: Rate, total: Rate) -> Self {
        let total = total.max(Rate::ZERO);
        let full = set.clamp(Rate::ZERO, total);
        Self { full, supported: total.saturating_sub(full).value }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn who_gets_the_support() {
        // Common practice, no source: of 60 breaths, 20 of them set, 40 get it; of 50, 30. A set rate of 40
        // above a total of 30 is all of it; none are left of rates below zero.
        let rate = Rate::from_int;
        for ((set, total), (full, supported)) in
            [((20, 60), (20, 40)), ((20, 50), (20, 30)), ((40, 30), (30, 0)), ((-4, -5), (0, 0))]
        {
            let want = RateSplit { full: rate(full), supported: rate(supported) };
            assert_eq!(RateSplit::of(rate(set), rate(total)), want);
        }
    }
}
