//! Nomenclature codes of ISO/IEEE 11073-10101 for the published quantities.

/// A term of the ISO/IEEE 11073-10101 nomenclature: a partition and a term code within it.
///
/// For exports that other systems read. The codes are those of public health-informatics mapping
/// documents; check them against the official code system before relying on them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Term {
    partition: u16,
    term: u16,
}

impl Term {
    /// Airway flow waveform.
    pub const FLOW: Self = Self::new(2, 20_692);
    /// Airway pressure waveform.
    pub const PRESSURE: Self = Self::new(2, 20_720);
    /// Largest airway pressure of an inflation.
    pub const PEAK_PRESSURE: Self = Self::new(2, 20_901);
    /// Mean airway pressure.
    pub const MEAN_PRESSURE: Self = Self::new(2, 20_903);
    /// Applied end-expiratory (baseline) pressure.
    pub const BASELINE_PRESSURE: Self = Self::new(2, 20_904);
    /// Tidal volume of a ventilated breath.
    pub const TIDAL_VOLUME: Self = Self::new(2, 20_908);
    /// Leak as a percentage.
    pub const LEAK_PERCENT: Self = Self::new(2, 22_152);
    /// The unit millilitre.
    pub const MILLILITRE: Self = Self::new(4, 1_618);

    /// A term from its partition and code.
    #[must_use]
    pub const fn new(partition: u16, term: u16) -> Self {
        Self { partition, term }
    }

    /// The 32-bit code: partition in the upper half, term in the lower.
    #[must_use]
    pub const fn code(self) -> u32 {
        u32::from_be_bytes(join(self.partition.to_be_bytes(), self.term.to_be_bytes()))
    }

    /// The same quantity as a device setting: partition 258 instead of 2; `None` for a term of
    /// another partition.
    #[must_use]
    pub const fn as_setting(self) -> Option<Self> {
        if self.partition == 2 { Some(Self { partition: 258, term: self.term }) } else { None }
    }
}

const fn join(upper: [u8; 2], lower: [u8; 2]) -> [u8; 4] {
    let ([a, b], [c, d]) = (upper, lower);
    [a, b, c, d]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_match_the_published_ones() {
        // ISO/IEEE 11073-10101 as carried by public mapping documents.
        assert_eq!(Term::FLOW.code(), 131_072 + 20_692);
        assert_eq!(Term::FLOW.code(), 151_764);
        // statistic suffix of pressure terms: (code − 131 072) mod 4 = 1 is MAX, 3 MEAN, 0 base
        assert_eq!(Term::PEAK_PRESSURE.code(), 151_973);
        assert_eq!((Term::PEAK_PRESSURE.code() - 131_072) % 4, 1);
        assert_eq!(Term::MEAN_PRESSURE.code(), 151_975);
        assert_eq!(Term::BASELINE_PRESSURE.code(), 151_976);
        // 16 929 196 − (258 << 16) + 131 072 = 151 980
        assert_eq!(Term::TIDAL_VOLUME.as_setting().map(Term::code), Some(16_929_196));
        assert_eq!(Term::MILLILITRE.as_setting(), None);
        assert_eq!(16_929_196 - (258 << 16) + 131_072, Term::TIDAL_VOLUME.code());
        assert_eq!(Term::TIDAL_VOLUME.code(), 151_980);
        // unit prefix: (263 762 − 262 144) mod 32 = 18 is milli
        assert_eq!((Term::MILLILITRE.code() - 262_144) % 32, 18);
        assert_eq!(Term::LEAK_PERCENT.code(), 153_224);
        assert_eq!(Term::PRESSURE.code(), 151_792);
    }
}
