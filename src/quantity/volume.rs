//! Gas volume, and minute volume per body mass.

use super::Quantity;
use super::unit::{Ml, MlPerMinKg};
use super::{Mass, Saturated, arith};

/// Volume in mL, at the conditions of the flow it came from. Range ±32 768 mL.
pub type Volume = Quantity<Ml>;

/// Minute volume for each kilogram of body mass, in mL/min/kg. Range ±32 768.
pub type MinuteVolumePerKg = Quantity<MlPerMinKg>;

impl Volume {
    /// So much for each kilogram of a body: half away from zero, clamped. One wide divide.
    pub const fn for_each_kg(self, mass: Mass) -> Saturated<Self> {
        Self::limited(arith::scale_ratio(self.to_bits(), mass.grams(), 1_000))
    }
}

/// A grid of eight equal steps an octave, from 0.5 to 112 mL.
impl Volume {
    /// How many steps the grid has, what lies below and beyond it among them.
    pub(crate) const BINS: usize = arith::LOG_BINS;

    /// Its step of the grid; 0 below it, the last beyond.
    #[must_use]
    pub(crate) const fn bin(self) -> usize {
        arith::log_bin(self.to_bits())
    }

    /// The lower edge of a step, exact; zero for the first.
    #[must_use]
    pub(crate) const fn edge(bin: usize) -> Self {
        Self::from_bits(arith::log_edge(bin))
    }
}

impl MinuteVolumePerKg {
    /// From a volume moved in a minute; half away from zero, clamped. One wide divide.
    pub const fn of(minute: Volume, mass: Mass) -> Saturated<Self> {
        Self::limited(arith::scale_ratio(minute.to_bits(), 1_000, mass.grams()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_minute_volume_for_each_kilogram() {
        // Common practice, no source: 30 mL × 24 ÷ 3 kg = 240, × 36 = 360; 6 mL × 60 ÷ 1.2 kg =
        // 300 mL/min/kg. Exact.
        for (tidal, rate, grams, want) in
            [(30, 24, 3_000, 240), (30, 36, 3_000, 360), (6, 60, 1_200, 300)]
        {
            let mass = Mass::from_grams(grams).unwrap();
            let want = Saturated::exact(MinuteVolumePerKg::from_int(want));
            assert_eq!(MinuteVolumePerKg::of(Volume::from_int(tidal * rate), mass), want);
        }
    }

    #[test]
    fn a_volume_for_each_kilogram() {
        // 30 mL/kg × 0.98 kg = 29.4 mL; × 200 kg = 6 000 mL.
        let of = |grams| Volume::from_int(30).for_each_kg(Mass::from_grams(grams).unwrap());
        assert_eq!(of(980), Volume::from_milli(29_400));
        assert_eq!(of(200_000), Saturated::exact(Volume::from_int(6_000)));
    }
}
