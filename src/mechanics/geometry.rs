//! The least pressure that physics asks of a tube's bore: air at 20 °C (viscosity 1.82·10⁻⁵ Pa·s,
//! density 1.204 kg/m³), no connector, entry or exit loss.
//!
//! Real tubes lose more: about two fifths of the drop does not scale with length (Spaeth 2015,
//! Paediatr Anaesth 25(4)). Use it to refuse coefficients, never in place of measured ones.

use crate::quantity::{Flow, Pressure, Resistance, Saturated, SettingError, Share};

/// Bore and length of a tracheal tube.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TubeGeometry {
    tenths: u8,
    length_mm: u16,
}

/// Reynolds number up to which a straight tube is laminar (textbook).
const LAMINAR: u32 = 2_000;
/// Bores in tenths of a millimetre up to which flow in a curved tube stays laminar (2.5 to 3.5 mm:
/// Jarreau 1999, J Appl Physiol 87:36-46).
const NARROW: u8 = 35;

impl TubeGeometry {
    /// From the inner diameter in tenths of a millimetre (20 to 45) and the length in millimetres
    /// (20 to 400).
    ///
    /// # Errors
    /// A parameter outside its range.
    pub fn new(inner_tenths: u8, length_mm: u16) -> Result<Self, SettingError> {
        check_bore(inner_tenths)?;
        SettingError::within("length_mm", length_mm, 20, 400)?;
        Ok(Self { tenths: inner_tenths, length_mm })
    }

    /// Laminar resistance of the straight tube, 128·μ·L/(π·d⁴); half up, 10⁻⁵ relative at
    /// least. The lower bound at any flow. One wide divide.
    #[must_use]
    pub(crate) const fn poiseuille(&self) -> Resistance {
        Resistance::of_bore(self.tenths, self.length_mm)
    }

    /// Reynolds number at a flow, 4·ρ·Q/(π·μ·d), to the nearest whole number. One wide divide.
    #[must_use]
    pub(crate) const fn reynolds(&self, flow: Flow) -> u32 {
        flow.reynolds(self.tenths).whole()
    }

    /// Laminar drop of the straight tube, with the flow's sign. Two wide divides.
    pub(crate) const fn laminar_drop(&self, flow: Flow) -> Saturated<Pressure> {
        self.poiseuille().at(flow)
    }

    /// Turbulent drop of the straight tube by Blasius' friction (0.3164·Re^−1/4), with the flow's
    /// sign; 10⁻⁵ relative and a step. Two integer roots, two wide divides.
    pub(crate) const fn blasius_drop(&self, flow: Flow) -> Saturated<Pressure> {
        Pressure::of_blasius(flow, self.tenths, self.length_mm)
    }

    /// How much more a bent tube loses than a straight one in laminar flow:
    /// 21.5·De/(1.56 + log₁₀ De)^5.73 with De = Re·√(r/Rc) (Ito 1959, J Basic Eng 81:123), for a
    /// bend of `bend_mm` (20 to 1 000) to the tube's axis.
    ///
    /// 1 up to De 13.5; beyond De 2 000, the formula's end, the value there, marked. 2·10⁻⁵
    /// relative, in a wide bend of a narrow tube 3·10⁻⁴. Two wide divides, a root and two logarithms.
    ///
    /// # Errors
    /// `bend_mm` outside its range.
    pub(crate) fn bend_ratio(
        &self,
        flow: Flow,
        bend_mm: u16,
    ) -> Result<Saturated<Share>, SettingError> {
        SettingError::within("bend_mm", bend_mm, 20, 1_000)?;
        Ok(flow.reynolds(self.tenths).bend_ratio(self.tenths, bend_mm))
    }

    /// Laminar drop of the bent tube, with the flow's sign.
    ///
    /// # Errors
    /// As [`bend_ratio`](Self::bend_ratio).
    pub(crate) fn bent_drop(
        &self,
        flow: Flow,
        bend_mm: u16,
    ) -> Result<Saturated<Pressure>, SettingError> {
        let ratio = self.bend_ratio(flow, bend_mm)?;
        let straight = self.laminar_drop(flow);
        let drop = straight.value.times(ratio.value);
        let saturated = drop.saturated || straight.saturated || ratio.saturated;
        Ok(Saturated { value: drop.value, saturated })
    }

    /// The least drop that physics allows the tube bent to a radius of `bend_mm` (20 to 1 000): laminar up to 3.5 mm; in
    /// wider ones the smaller of laminar and Blasius above Re 2 000.
    ///
    /// # Errors
    /// `bend_mm` outside its range.
    pub fn least_drop(
        &self,
        flow: Flow,
        bend_mm: u16,
    ) -> Result<Saturated<Pressure>, SettingError> {
        let bent = self.bent_drop(flow, bend_mm)?;
        if self.tenths <= NARROW || self.reynolds(flow) <= LAMINAR {
            return Ok(bent);
        }
        let turbulent = self.blasius_drop(flow);
        let size = |drop: Saturated<Pressure>| drop.value.magnitude();
        Ok(if size(turbulent) < size(bent) { turbulent } else { bent })
    }
}

fn check_bore(tenths: u8) -> Result<(), SettingError> {
    SettingError::within("inner_tenths", tenths, 20, 45)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Problem;
    use crate::quantity::arith;

    fn float(bits: i32) -> f64 {
        f64::from(bits) / 65_536.0
    }

    fn tube(tenths: u8) -> TubeGeometry {
        TubeGeometry::new(tenths, 120).unwrap()
    }

    fn litres(per_minute: i32) -> Flow {
        Flow::from_milli_l_per_min(per_minute * 1_000).value
    }

    #[test]
    fn straight_laminar_resistance() {
        // Textbook Poiseuille, 12 cm: reached half a step and
        // the last printed digit.
        for (tenths, want) in [(20, 56.71), (25, 23.229), (30, 11.20), (35, 6.047), (40, 3.544)] {
            let got = tube(tenths).poiseuille().to_f64();
            assert!((got - want).abs() < 0.006, "{tenths}: {got}");
        }
        assert!((tube(25).poiseuille().to_f64() - 23.229_08).abs() < 1.6e-5);
    }

    #[test]
    fn reynolds_numbers() {
        // Textbook: 5 L/min in 2.5 mm: 2807.7 to the nearest whole. 2 000 at 3.56 L/min.
        assert_eq!(tube(25).reynolds(litres(5)), 2_808);
        assert_eq!(tube(25).reynolds(litres(-5)), 2_808);
        let at = Flow::from_milli_l_per_min(3_560).value;
        assert!(tube(25).reynolds(at).abs_diff(2_000) <= 2);
    }

    #[test]
    fn turbulent_drops() {
        // Textbook Blasius: 3.0 mm, 10 L/min: 5.222 (reached 10^-3); other bores at 5 and
        // 10 L/min to the last printed digit.
        for (tenths, five, ten) in [
            (20, 10.65, 35.83),
            (25, 3.691, 12.42),
            (30, 1.553, 5.222),
            (35, 0.747, 2.511),
            (40, 0.396, 1.332),
        ] {
            for (flow, want) in [(5, five), (10, ten)] {
                let got = tube(tenths).blasius_drop(litres(flow)).within().unwrap().to_f64();
                assert!((got / want - 1.0).abs() < 9e-4, "{tenths}: {got} {want}");
                let back = tube(tenths).blasius_drop(litres(-flow)).value;
                assert_eq!(back.to_f64(), -got);
            }
        }
        let got = tube(30).blasius_drop(litres(10)).value.to_f64();
        assert!((got - 5.222_24).abs() < 1e-4, "{got}");
        assert_eq!(tube(30).blasius_drop(Flow::ZERO), Saturated::exact(Pressure::ZERO));
    }

    #[test]
    fn a_bend_costs_what_ito_says() {
        // Ratio 1.00 at De 13.5 (Ito 1959). The formula in f64 over its range: 2·10^-5.
        for dean in (13_500..2_000_000).step_by(997) {
            let de = f64::from(dean) / 1_000.0;
            let want = 21.5 * de / (1.56 + de.log10()).powf(5.73);
            let got = arith::bend_ratio_q16((de * 65_536.0) as u64).within().unwrap();
            assert!((float(got) / want.max(1.0) - 1.0).abs() < 2.1e-5, "{de}: {got} {want}");
        }
        assert!((float(arith::bend_ratio_q16(885_000).value) - 1.0).abs() < 0.01);
        assert_eq!(arith::bend_ratio_q16(0), Saturated::exact(arith::ONE));
        assert!(arith::bend_ratio_q16(2_001 << 16).saturated);
        // 12 cm bent to 14 cm at 1, 3, 5, 10 L/min, same source: to the last printed digits.
        for (tenths, want) in [
            (20, [1.217, 5.087, 10.218, 27.06]),
            (25, [0.485, 2.006, 4.012, 10.57]),
            (30, [0.229, 0.938, 1.870, 4.908]),
            (35, [0.121, 0.494, 0.981, 2.567]),
            (40, [0.070, 0.283, 0.562, 1.464]),
        ] {
            for (flow, want) in [1, 3, 5, 10].into_iter().zip(want) {
                let drop = tube(tenths).bent_drop(litres(flow), 140).unwrap().within().unwrap();
                let got = drop.to_f64();
                assert!((got - want).abs() < 6e-4_f64.max(want * 5e-4), "{tenths}: {got} {want}");
            }
        }
    }

    #[test]
    fn the_least_drop_knows_wide_tubes() {
        // 4.0 mm at 10 L/min: Blasius 1.332 below bent laminar 1.464; at 5 L/min Re 1 755: laminar.
        let least =
            |tenths, flow| tube(tenths).least_drop(litres(flow), 140).unwrap().value.to_f64();
        assert!((least(40, 10) - 1.332).abs() < 1e-3);
        assert!((least(40, 5) - 0.562).abs() < 1e-3);
        assert!((least(35, 10) - 2.567).abs() < 1e-3);
    }

    #[test]
    fn a_bend_beyond_its_formula_is_told() {
        // A Dean number beyond 2 000 is told, though the drop is within its range.
        assert!(tube(20).bent_drop(Flow::from_int(5_000), 20).unwrap().saturated);
    }

    #[test]
    fn wrong_tubes_are_named() {
        let wrong = |d, l| TubeGeometry::new(d, l).map_err(|e| (e.parameter, e.problem));
        assert_eq!(wrong(19, 120), Err(("inner_tenths", Problem::TooSmall)));
        assert_eq!(wrong(46, 120), Err(("inner_tenths", Problem::TooLarge)));
        assert_eq!(wrong(30, 19), Err(("length_mm", Problem::TooSmall)));
        assert_eq!(wrong(30, 401), Err(("length_mm", Problem::TooLarge)));
        assert!(tube(30).bend_ratio(Flow::ZERO, 19).is_err());
        assert!(tube(30).bend_ratio(Flow::ZERO, 1_001).is_err());
    }
}
