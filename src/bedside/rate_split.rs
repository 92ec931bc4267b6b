//! Which breaths get the support pressure and which the full peak.

use super::{Inflation, Support};
use crate::quantity::{Pressure, Rate, Share, arith};

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

impl RateSplit {
    /// The share of all breaths that is supported, toward zero; `None` where there is no breath. One
    /// wide divide.
    #[must_use]
    pub fn supported_share(&self) -> Option<Share> {
        let total = self.full.saturating_add(self.supported).within()?;
        self.supported.share_of(total).map(|share| share.value)
    }

    /// The mean over all breaths of their peak pressure, within 0.002 cmH2O; `None` where there is
    /// no breath. One wide divide.
    #[must_use]
    pub fn mean_peak(&self, full: &Inflation, support: &Support) -> Option<Pressure> {
        let (peak, supported) = (full.peak().to_bits(), support.peak.to_bits());
        let share = self.supported_share()?;
        Some(Pressure::from_bits(arith::between(peak, supported, share.to_bits())))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bedside::{PressureGrid, ShareOfRise};

    #[test]
    fn who_gets_the_support() {
        // Common practice, no source: 60 breaths, 20 of them set, 20 over 5 cmH2O, 50 % of the
        // rise = 12.5. Beyond the set rate: 40 get it, mean (20 × 20 + 40 × 12.5) ÷ 60 = 15.0.
        // Every breath: 60 get it, mean 12.5.
        let full = Inflation::new(Pressure::from_int(20), Pressure::from_int(5)).unwrap();
        let grid = PressureGrid::from_milli(500).unwrap();
        let support = ShareOfRise::from_percent(50).unwrap().support(&full, grid);
        let rate = Rate::from_int;
        for (who, full_rate, mean) in
            [(Supported::AboveSetRate, 20, 15.0), (Supported::Every, 0, 12.5)]
        {
            let shared = who.share_out(rate(20), rate(60));
            let want = RateSplit { full: rate(full_rate), supported: rate(60 - full_rate) };
            assert_eq!(shared, want);
            let got = shared.mean_peak(&full, &support).unwrap();
            assert!((f64::from(got.to_bits()) / 65_536.0 - mean).abs() < 0.002, "{got}");
        }
    }

    #[test]
    fn odd_rates_are_cut() {
        let rate = Rate::from_int;
        let shared = Supported::AboveSetRate.share_out(rate(40), rate(30));
        assert_eq!(shared, RateSplit { full: rate(30), supported: Rate::ZERO });
        assert_eq!(shared.supported_share(), Some(Share::ZERO));
        let none = Supported::Every.share_out(rate(-4), rate(-5));
        assert_eq!(none.supported_share(), None);
    }
}
