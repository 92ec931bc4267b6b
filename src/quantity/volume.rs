//! Gas volume, and minute volume per body mass.

use super::Quantity;
use super::unit::{Ml, MlPerMinKg};
use super::{Mass, Rate, Saturated, arith};

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

impl MinuteVolumePerKg {
    /// From a volume moved in a minute; half away from zero, clamped. One wide divide.
    pub const fn of(minute: Volume, mass: Mass) -> Saturated<Self> {
        Self::limited(arith::scale_ratio(minute.to_bits(), 1_000, mass.grams()))
    }

    /// From a tidal volume and a rate, so that the minute volume itself need not fit: 2⁻³⁰ relative
    /// and half a step, clamped. Rates below zero count as zero. One wide divide.
    pub const fn of_breaths(tidal: Volume, rate: Rate, mass: Mass) -> Saturated<Self> {
        let rate = if rate.to_bits() < 0 { 0 } else { rate.to_bits().unsigned_abs() };
        let one = arith::ONE.unsigned_abs();
        let grams = mass.grams();
        match arith::scaled_by_products(tidal.to_bits(), (rate, 1_000), (grams, one)) {
            Some(r) => Saturated { value: Self::from_bits(r.value), saturated: r.saturated },
            // a mass is above zero
            None => Saturated::exact(Self::ZERO),
        }
    }

    /// The volume in a minute of a whole body; half away from zero, clamped. One wide divide.
    pub const fn of_body(self, mass: Mass) -> Saturated<Volume> {
        Volume::limited(arith::scale_ratio(self.to_bits(), mass.grams(), 1_000))
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
            let (volume, per_minute) = (Volume::from_int(tidal), Rate::from_int(rate));
            let want = Saturated::exact(MinuteVolumePerKg::from_int(want));
            assert_eq!(MinuteVolumePerKg::of_breaths(volume, per_minute, mass), want);
            let minute = Volume::from_int(tidal * rate);
            assert_eq!(MinuteVolumePerKg::of(minute, mass), want);
            assert_eq!(want.value.of_body(mass), Saturated::exact(minute));
        }
    }

    #[test]
    fn a_volume_for_each_kilogram() {
        // 30 mL/kg × 0.98 kg = 29.4 mL; × 200 kg = 6 000 mL.
        let of = |grams| Volume::from_int(30).for_each_kg(Mass::from_grams(grams).unwrap());
        assert_eq!(of(980), Volume::from_milli(29_400));
        assert_eq!(of(200_000), Saturated::exact(Volume::from_int(6_000)));
    }

    #[test]
    fn an_adult_does_not_overflow_on_the_way() {
        // 700 mL × 60/min = 42 000 mL/min is beyond a volume; ÷ 70 kg = 600 is not.
        let adult = Mass::from_grams(70_000).unwrap();
        let got = MinuteVolumePerKg::of_breaths(Volume::from_int(700), Rate::from_int(60), adult);
        assert_eq!(got, Saturated::exact(MinuteVolumePerKg::from_int(600)));
        assert!(MinuteVolumePerKg::from_int(600).of_body(adult).saturated);
        let backward = MinuteVolumePerKg::of_breaths(Volume::MAX, Rate::from_int(-1), adult);
        assert_eq!(backward, Saturated::exact(MinuteVolumePerKg::ZERO));
    }
}
