//! Gas flow.

use super::Quantity;
use super::Saturated;
use super::arith;
use super::unit::MlPerS;

/// Flow in mL/s, positive into the patient. Range ±32 768 mL/s (±1 966 L/min).
pub type Flow = Quantity<MlPerS>;

impl Flow {
    /// From L/min: 1 L/min is exactly 50/3 mL/s; rounded half away from zero.
    pub const fn from_l_per_min(value: fixed::types::I16F16) -> Saturated<Self> {
        Self::limited(arith::scale_ratio(value.to_bits(), 50, 3))
    }

    /// From thousandths of L/min, the grid of most threshold settings.
    pub const fn from_milli_l_per_min(thousandths: i32) -> Saturated<Self> {
        // 65 536 × 50 ÷ 3 ÷ 1 000 = 3 276 800 ÷ 3 000
        Self::limited(arith::scale_ratio(thousandths, 3_276_800, 3_000))
    }

    /// A constant of so many thousandths of L/min, rounded half away from zero; one beyond the range does not
    /// compile.
    ///
    /// ```
    /// use tidevane::quantity::Flow;
    ///
    /// const THRESHOLD: Flow = Flow::milli_lpm::<200>();
    /// assert_eq!(THRESHOLD, Flow::from_milli_l_per_min(200).value);
    /// ```
    #[must_use]
    pub const fn milli_lpm<const THOUSANDTHS: i32>() -> Self {
        const {
            let made = Self::from_milli_l_per_min(THOUSANDTHS);
            assert!(!made.saturated, "beyond the range of a flow");
            made.value
        }
    }

    /// How steeply it rises to another over so many counts: steps for each count with 16 fraction bits.
    #[must_use]
    pub(crate) const fn rise_to(self, to: Self, from_count: i32, to_count: i32) -> i64 {
        arith::slope_q16(self.to_bits(), to.to_bits(), from_count, to_count)
    }

    /// On a line that [rises](Self::rise_to) so steeply from here, at a count before its end.
    #[must_use]
    pub(crate) const fn along(self, slope: i64, count: i32, from_count: i32) -> Self {
        Self::from_bits(arith::along(self.to_bits(), slope, count, from_count))
    }

    /// In L/min (× 3/50), rounded half away from zero; cannot clamp.
    #[must_use]
    pub const fn to_l_per_min(self) -> fixed::types::I16F16 {
        fixed::types::I16F16::from_bits(arith::scale_ratio(self.to_bits(), 3, 50).value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use fixed::types::I16F16;

    #[test]
    fn six_litres_a_minute_are_a_hundred_ml_a_second() {
        // Definition: 1 L/min = 1000/60 mL/s, so 6 × 1000 ÷ 60 = 100, exact.
        let six = Flow::from_l_per_min(I16F16::from_bits(6 << 16));
        assert_eq!(six, Saturated::exact(Flow::from_int(100)));
        assert_eq!(six.value.to_l_per_min(), I16F16::from_bits(6 << 16));
    }

    #[test]
    fn published_trigger_sensitivities_convert() {
        // Sensitivities of Bernstein 1995, Crit Care Med 23:1739-1744:
        // 1, 2.5, 3.3, 10 mL/s × 60 ÷ 1000 = 0.06, 0.15, 0.198, 0.6 L/min.
        for (milli_ml_s, milli_l_min) in [(1_000, 60), (2_500, 150), (3_300, 198), (10_000, 600)] {
            let flow = Flow::from_milli(milli_ml_s).value;
            let back = flow.to_l_per_min().to_bits();
            // within one step of 1/65 536 L/min of the exact value
            let exact = f64::from(milli_l_min) / 1_000.0 * 65_536.0;
            assert!((f64::from(back) - exact).abs() <= 1.0, "{milli_ml_s}: {back} against {exact}");
            let from = Flow::from_milli_l_per_min(milli_l_min).value;
            assert!((from.to_bits() - flow.to_bits()).abs() <= 1);
        }
    }

    #[test]
    fn clamping_is_reported() {
        assert!(Flow::from_l_per_min(I16F16::MAX).saturated);
        assert!(Flow::MAX.saturating_add(Flow::from_int(1)).saturated);
        assert!(Flow::MIN.saturating_sub(Flow::from_int(1)).saturated);
        assert!(!Flow::MIN.saturating_add(Flow::MAX).saturated);
    }
}
