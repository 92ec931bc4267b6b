//! Pressure, and hPa by explicit conversion.

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
        Self::limited(arith::scale_ratio(value.to_bits(), 1_000_000, 980_665))
    }

    /// Square root of the magnitude with the sign kept; 4·10⁻⁵ relative and a step of 1/65 536.
    #[must_use]
    pub(crate) fn root(self) -> RootPressure {
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
    fn hectopascals_convert_by_definition() {
        // SI definitions: 1 hPa = 1.019716 cmH2O. A thousandfold input shows the sixth decimal of the factor.
        let thousand = I16F16::from_bits(1_000 << 16);
        close(Pressure::from_hpa(thousand).value.to_bits(), 1_019.716_213);
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
        assert!(Pressure::from_hpa(I16F16::MAX).saturated);
        assert!(!Pressure::from_hpa(I16F16::from_bits(32_000 << 16)).saturated);
    }
}
