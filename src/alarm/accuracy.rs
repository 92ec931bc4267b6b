//! How far a measured value may stand from the true one.

use super::Measured;
use crate::quantity::{Problem, Saturated, SettingError, arith};

/// A claim of accuracy: ± (a fixed part + a share of the actual value), the form in which
/// ISO 80601-2-12 states them (from memory). A hysteresis narrower than this flaps on error alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Accuracy<Q> {
    fixed: Q,
    percent: u8,
}

impl<Q: Measured> Accuracy<Q> {
    /// A fixed part of zero or more and 0 to 100 percent of the actual value.
    ///
    /// # Errors
    /// Names the parameter outside its range.
    pub fn new(fixed: Q, percent: u8) -> Result<Self, SettingError> {
        if fixed.bits() < 0 {
            return Err(SettingError::new("fixed", Problem::Negative));
        }
        if percent > 100 {
            return Err(SettingError::new("percent", Problem::TooLarge));
        }
        Ok(Self { fixed, percent })
    }

    /// Half the width of the band at an actual value, whose sign does not matter; the share rounds
    /// half away from zero. One wide divide.
    pub fn at(&self, actual: Q) -> Saturated<Q> {
        let part = arith::scale_ratio(actual.bits().saturating_abs(), self.percent.into(), 100);
        arith::add(self.fixed.bits(), part.value).map(Q::of_bits)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Pressure, Volume};

    #[test]
    fn bands_of_volume_and_pressure() {
        // ISO 80601-2-12, from memory: ±(4.0 mL + 15 %) at 60 mL: 4 + 9 = 13.0 mL.
        let volume = Accuracy::new(Volume::from_int(4), 15).unwrap();
        assert_eq!(volume.at(Volume::from_int(60)).within(), Some(Volume::from_int(13)));
        assert_eq!(volume.at(Volume::from_int(-60)).within(), Some(Volume::from_int(13)));
        // ±(2 hPa + 4 %) at 20 hPa: 2 + 0.8 = 2.8; a band has the unit of its numbers, and 0.8
        // rounds to the nearest 1/65 536.
        let pressure = Accuracy::new(Pressure::from_int(2), 4).unwrap();
        let band = pressure.at(Pressure::from_int(20)).value;
        assert_eq!(band, Pressure::from_milli(2_800).value);
    }

    #[test]
    fn claims_are_checked() {
        let problem =
            |fixed, percent| Accuracy::new(Volume::from_int(fixed), percent).unwrap_err().parameter;
        assert_eq!(problem(-1, 15), "fixed");
        assert_eq!(problem(1, 101), "percent");
        let wide = Accuracy::new(Volume::MAX, 100).unwrap();
        assert!(wide.at(Volume::MAX).saturated);
    }
}
