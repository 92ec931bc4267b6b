//! Levels of support and minute volume that were published. Data to hold a setting against, never
//! advice.

use super::LoadEvidence;
use crate::quantity::{MinuteVolumePerKg, Share};

/// What a published level of support is measured by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum SupportMeasure {
    /// Expired tidal volume in mL/kg.
    VolumePerKg,
    /// A share of peak less baseline.
    ShareOfRise,
}

/// A published range of support.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PublishedSupport {
    /// What the authors meant by it.
    pub name: &'static str,
    /// What `low` and `high` are.
    pub measure: SupportMeasure,
    /// Lower end.
    pub low: Share,
    /// Upper end.
    pub high: Share,
    /// Where.
    pub source: &'static str,
    /// How the figures were come by.
    pub evidence: LoadEvidence,
}

/// Published ranges of support.
pub const PUBLISHED_SUPPORT: [PublishedSupport; 3] = [
    PublishedSupport {
        name: "partial support",
        measure: SupportMeasure::VolumePerKg,
        low: Share::from_milli(2_500).value,
        high: Share::from_milli(4_000).value,
        source: "Gupta 2009, Arch Dis Child Fetal Neonatal Ed 94:F80-83",
        evidence: LoadEvidence::Read,
    },
    PublishedSupport {
        name: "full support",
        measure: SupportMeasure::VolumePerKg,
        low: Share::from_milli(5_000).value,
        high: Share::from_milli(8_000).value,
        source: "Gupta 2009, Arch Dis Child Fetal Neonatal Ed 94:F80-83",
        evidence: LoadEvidence::Read,
    },
    PublishedSupport {
        name: "level of a trial in infants of extremely low birth weight",
        measure: SupportMeasure::ShareOfRise,
        low: Share::from_percent(30),
        high: Share::from_percent(50),
        source: "Reyes 2006, Pediatrics 118:1409-1417",
        evidence: LoadEvidence::FromMemory,
    },
];

/// A published range of minute volume for each kilogram.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct PublishedBand {
    /// What the authors held to it.
    pub name: &'static str,
    /// Lower end.
    pub low: MinuteVolumePerKg,
    /// Upper end.
    pub high: MinuteVolumePerKg,
    /// Where.
    pub source: &'static str,
    /// How the figures were come by.
    pub evidence: LoadEvidence,
}

impl PublishedBand {
    /// Whether a minute volume lies inside, both ends included.
    #[must_use]
    pub fn contains(&self, minute_volume: MinuteVolumePerKg) -> bool {
        minute_volume >= self.low && minute_volume <= self.high
    }
}

/// Published bands of minute volume.
pub const PUBLISHED_BANDS: [PublishedBand; 1] = [PublishedBand {
    name: "held while weaning",
    low: MinuteVolumePerKg::from_int(240),
    high: MinuteVolumePerKg::from_int(360),
    source: "Mallya 2017, Neonatal Society abstract",
    evidence: LoadEvidence::Read,
}];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Mass, Rate, Volume};

    #[test]
    fn the_ends_of_the_band() {
        // Mallya 2017, Neonatal Society abstract, 240 to 360 mL/kg/min: 30 mL at 24 and 36/min in
        // 3 kg = 720 ÷ 3 and 1 080 ÷ 3, both ends and inside; 23 and 37/min are outside.
        let mass = Mass::from_grams(3_000).unwrap();
        let inside = |rate| {
            let (tidal, rate) = (Volume::from_int(30), Rate::from_int(rate));
            let per_kg = MinuteVolumePerKg::of_breaths(tidal, rate, mass).value;
            PUBLISHED_BANDS[0].contains(per_kg)
        };
        assert_eq!([23, 24, 36, 37].map(inside), [false, true, true, false]);
    }

    #[test]
    fn published_supports_grow() {
        // Gupta 2009, Arch Dis Child Fetal Neonatal Ed 94:F80-83: minute volumes 270, 332, 392
        // mL/kg/min at 72, 65, 59/min without, with partial and with full support: 3.75, 5.11 and
        // 6.64 mL/kg a breath. Full support's mean lies inside its range.
        let mean = 392.0 / 59.0;
        let full = PUBLISHED_SUPPORT[1];
        let ends = [full.low, full.high].map(|s| f64::from(s.to_bits()) / 65_536.0);
        assert!(ends[0] < mean && mean < ends[1], "{mean} {ends:?}");
        assert!(PUBLISHED_SUPPORT.iter().all(|s| s.low < s.high && !s.source.is_empty()));
    }
}
