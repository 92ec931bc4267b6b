//! Compliance, elastance and resistance, and their SI units by explicit conversion.

use super::Quantity;
use super::Saturated;
use super::arith;
use super::unit::{CmH2OPerMl, CmH2OPerMlL, CmH2OSecondPerL, MlPerCmH2O};
use fixed::types::I16F16;

/// Compliance in mL/cmH2O.
pub type Compliance = Quantity<MlPerCmH2O>;

/// Resistance in cmH2O·s/L (the same as cmH2O/(L/s)).
pub type Resistance = Quantity<CmH2OSecondPerL>;

/// Elastance in cmH2O/mL: one over compliance.
pub type Elastance = Quantity<CmH2OPerMl>;

/// How fast elastance grows with volume, in cmH2O/mL for each litre: cmH2O/(mL·L).
pub type Curvature = Quantity<CmH2OPerMlL>;

impl Compliance {
    /// From mL/kPa: × 0.0980665, as 1 kPa = 10.19716 cmH2O; rounded half away from zero, cannot
    /// clamp.
    #[must_use]
    pub const fn from_ml_per_kpa(value: I16F16) -> Self {
        Self::from_bits(arith::scale_ratio(value.to_bits(), 980_665, 10_000_000).value)
    }
}

impl Resistance {
    /// From kPa·s/L: ÷ 0.0980665; rounded half away from zero, clamped above 3 213 kPa·s/L.
    pub const fn from_kpa_s_per_l(value: I16F16) -> Saturated<Self> {
        Self::limited(arith::scale_ratio(value.to_bits(), 10_000_000, 980_665))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn si_units_convert_by_definition() {
        // 65.6 mL/kPa × 0.0980665 = 6.4332 mL/cmH2O; 3.78 kPa·s/L ÷ 0.0980665 = 38.545 cmH2O·s/L
        // (1 cmH2O = 98.0665 Pa by definition; the values: a table of infant lungs in Thorax, and
        // Fuchs 2011, Eur Respir J 37:1208-1216).
        let compliance = Compliance::from_ml_per_kpa(I16F16::from_num(65.6));
        assert!((f64::from(compliance.to_bits()) / 65_536.0 - 6.4332).abs() < 1e-3);
        let resistance = Resistance::from_kpa_s_per_l(I16F16::from_num(3.78));
        assert!((f64::from(resistance.value.to_bits()) / 65_536.0 - 38.545).abs() < 1e-3);
        assert!(!resistance.saturated && Resistance::from_kpa_s_per_l(I16F16::MAX).saturated);
    }
}
