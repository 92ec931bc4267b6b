//! Pressure, and its other units by explicit conversion.

use super::Quantity;
use super::arith;
use super::unit::CmH2O;
use super::{RootPressure, Saturated};
use fixed::types::I16F16;

/// Pressure in cmH2O. Range ±32 768 cmH2O; airway pressures are relative to ambient.
pub type Pressure = Quantity<CmH2O>;

impl Pressure {
    /// From hPa (or mbar, the same): 1 cmH2O = 0.980665 hPa by definition (at 4 °C and standard
    /// gravity), so hPa ÷ 0.980665. Rounded half away from zero. Taking hPa for cmH2O would be
    /// wrong by 1.97 %.
    pub const fn from_hpa(value: I16F16) -> Saturated<Self> {
        Self::by_ratio(value, 1_000_000, 980_665)
    }

    /// In hPa (or mbar); rounded half away from zero, cannot clamp.
    #[must_use]
    pub const fn to_hpa(self) -> I16F16 {
        I16F16::from_bits(arith::scale_ratio(self.to_bits(), 980_665, 1_000_000).value)
    }

    /// From kPa: 1 kPa = 1 000 ÷ 98.0665 cmH2O = 10.19716 cmH2O.
    pub const fn from_kpa(value: I16F16) -> Saturated<Self> {
        Self::by_ratio(value, 10_000_000, 980_665)
    }

    /// In kPa; rounded half away from zero, cannot clamp.
    #[must_use]
    pub const fn to_kpa(self) -> I16F16 {
        I16F16::from_bits(arith::scale_ratio(self.to_bits(), 980_665, 10_000_000).value)
    }

    /// From mmHg: 1 mmHg = 133.322387 Pa ÷ 98.0665 Pa = 1.359510 cmH2O (conventional value).
    pub const fn from_mmhg(value: I16F16) -> Saturated<Self> {
        Self::by_ratio(value, 133_322_387, 98_066_500)
    }

    /// In mmHg; rounded half away from zero, cannot clamp.
    #[must_use]
    pub const fn to_mmhg(self) -> I16F16 {
        I16F16::from_bits(arith::scale_ratio(self.to_bits(), 98_066_500, 133_322_387).value)
    }

    const fn by_ratio(value: I16F16, numerator: u32, denominator: u32) -> Saturated<Self> {
        Self::limited(arith::scale_ratio(value.to_bits(), numerator, denominator))
    }

    /// Square root of the magnitude with the sign kept; 4·10⁻⁵ relative and a step of 1/65 536.
    #[must_use]
    pub fn root(self) -> RootPressure {
        RootPressure::from_bits(arith::root_q16(self.to_bits()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(bits: i32, exact: f64) {
        assert!((f64::from(bits) / 65_536.0 - exact).abs() <= 1.0 / 65_536.0, "{bits} {exact}");
    }

    #[test]
    fn units_convert_by_definition() {
        // SI definitions. A thousandfold input shows the sixth decimal of the factor:
        // 1000 cmH2O = 980.665 hPa; 1000 kPa = 10 197.16 cmH2O; 1000 kPa = 7500.616 mmHg.
        close(Pressure::from_int(1_000).to_hpa().to_bits(), 980.665);
        let thousand = I16F16::from_bits(1_000 << 16);
        let kpa = Pressure::from_kpa(thousand).value;
        close(kpa.to_bits(), 10_197.162_129);
        assert!((f64::from(kpa.to_mmhg().to_bits()) / 65_536.0 - 7_500.616).abs() < 1e-3);
        // 1 hPa = 1.019716 cmH2O
        close(Pressure::from_hpa(thousand).value.to_bits(), 1_019.716_213);
        close(Pressure::from_mmhg(thousand).value.to_bits(), 1_359.510);
    }

    #[test]
    fn kpa_and_mmhg_go_the_right_way() {
        // 1 kPa is 7.5 mmHg, never the other way round.
        let one = Pressure::from_kpa(I16F16::ONE).value;
        assert!(one.to_mmhg() > I16F16::from_bits(7 << 16));
    }

    #[cfg(feature = "float")]
    #[test]
    fn floating_point_comes_in_checked_and_goes_out_exactly() {
        assert_eq!(Pressure::from_f64(-4.5), Some(Pressure::from_milli(-4_500).value));
        // Half a step of 1/65 536 goes to the even one, beyond it up.
        assert_eq!(Pressure::from_f64(0.5 / 65_536.0), Some(Pressure::ZERO));
        assert_eq!(Pressure::from_f64(0.51 / 65_536.0), Some(Pressure::from_bits(1)));
        for beyond in [f64::NAN, f64::INFINITY, 32_768.0, -32_769.0] {
            assert_eq!(Pressure::from_f64(beyond), None, "{beyond}");
        }
        assert_eq!(Pressure::from_milli(-4_500).value.to_f64().to_bits(), (-4.5_f64).to_bits());
    }

    #[test]
    fn conversion_beyond_the_range_says_so() {
        assert!(Pressure::from_kpa(I16F16::MAX).saturated);
        assert!(!Pressure::from_hpa(I16F16::from_bits(32_000 << 16)).saturated);
    }
}
