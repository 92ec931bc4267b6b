//! Which breaths get the support pressure and which the full peak.

use crate::quantity::Rate;

/// Which breaths are supported.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Supported {
    /// Every breath gets the support pressure; none gets the full peak.
    Every,
    /// The set rate gets the full peak, and the breaths beyond it the support pressure.
    AboveSetRate,
}

/// How many breaths a minute get which pressure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct RateSplit {
    /// Breaths with the full peak.
    pub full: Rate,
    /// Breaths with the support pressure.
    pub supported: Rate,
}

impl Supported {
    /// Shares a total rate out, set inflations included. Rates below zero count as zero, and a set
    /// rate above the total as the total. Cannot clamp.
    #[must_use]
    pub fn share_out(self, set: Rate, total: Rate) -> RateSplit {
        let total = total.max(Rate::ZERO);
        let full = match self {
            Self::Every => Rate::ZERO,
            Self::AboveSetRate => set.clamp(Rate::ZERO, total),
        };
        RateSplit { full, supported: total.saturating_sub(full).value }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn who_gets_the_support() {
        // Common practice, no source: 60 breaths, 20 of them set. Beyond the set rate: 40 get it.
        // Every breath: 60 get it. Of 50 breaths, 30 or 50.
        let rate = Rate::from_int;
        for (who, total, full, supported) in [
            (Supported::AboveSetRate, 60, 20, 40),
            (Supported::Every, 60, 0, 60),
            (Supported::AboveSetRate, 50, 20, 30),
            (Supported::Every, 50, 0, 50),
        ] {
            let want = RateSplit { full: rate(full), supported: rate(supported) };
            assert_eq!(who.share_out(rate(20), rate(total)), want);
        }
    }

    #[test]
    fn odd_rates_are_cut() {
        let rate = Rate::from_int;
        let shared = Supported::AboveSetRate.share_out(rate(40), rate(30));
        assert_eq!(shared, RateSplit { full: rate(30), supported: Rate::ZERO });
        let none = Supported::Every.share_out(rate(-4), rate(-5));
        assert_eq!(none, RateSplit { full: Rate::ZERO, supported: Rate::ZERO });
    }
}
