//! The volume that never reaches gas exchange.

use crate::quantity::{Duration, Mass, Volume, arith};

/// A year of 365.25 days.
const YEAR: Duration = Duration::from_us(31_557_600_000_000);
/// 3.28 mL/kg: 3.28 × 65 536 = 214 958.08.
const AT_BIRTH: i32 = 214_958;
/// 0.56 mL/kg: 0.56 × 65 536 = 36 700.16.
const PER_LOG: i32 = 36_700;

/// Anatomical dead space for age and mass: (3.28 − 0.56 ln(1 + age in years)) mL/kg, after Numa &
/// Newth 1996, J Appl Physiol 80:1485-1489; within 0.001 mL/kg of that formula. It is the whole of
/// it, upper airway included (2.3 of the 3.28 in infancy): a tube bypasses that part and adds its own
/// lumen, and sensor and connector come on top.
///
/// Ventilated preterm infants were found to have more (Dassios 2018, Pediatr Pulmonol: 3.7 against
/// 2.4 mL/kg at term).
#[must_use]
pub fn anatomical_dead_space(mass: Mass, age: Duration) -> Volume {
    let years = age.ratio(YEAR).map_or(0, |r| r.value.to_bits());
    let log = arith::ln_q16(arith::add(arith::ONE, years).value).unwrap_or(0);
    let less = arith::mul_q16(PER_LOG, log).value;
    let per_kg = arith::sub(AT_BIRTH, less).value;
    // below 2^18 × 200 000 g ÷ 1000 < 2^26: cannot clamp
    Volume::from_bits(arith::scale_ratio(per_kg, mass.grams(), 1_000).value)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ml(grams: u32, years: f64) -> f64 {
        let age = Duration::from_us((years * 31_557_600_000_000.0) as u64);
        let space = anatomical_dead_space(Mass::from_grams(grams).unwrap(), age);
        f64::from(space.to_bits()) / 65_536.0
    }

    #[test]
    fn the_published_formula() {
        // Numa & Newth 1996, J Appl Physiol 80:1485-1489:
        // 5 years, 10 kg: (3.28 − 0.56 × 1.791 759) × 10 = 22.766 mL; per kg: newborn 3.28,
        // 0.02 y 3.2689, 0.25 y 3.1550, 1 y 2.8918.
        assert!((ml(10_000, 5.0) - 22.766).abs() < 0.001, "{}", ml(10_000, 5.0));
        for (years, exact) in [(0.0, 3.28), (0.02, 3.2689), (0.25, 3.1550), (1.0, 2.8918)] {
            assert!((ml(1_000, years) - exact).abs() < 0.000_2, "{years}: {}", ml(1_000, years));
        }
    }

    #[test]
    fn the_logarithm_is_close_everywhere() {
        for bits in (1..=2_000_000).step_by(997).chain([i32::MAX, 65_536]) {
            let got = f64::from(arith::ln_q16(bits).unwrap()) / 65_536.0;
            let exact = (f64::from(bits) / 65_536.0).ln();
            assert!((got - exact).abs() < 2.0 / 65_536.0, "{bits}: {got} {exact}");
        }
        assert_eq!(arith::ln_q16(0), None);
    }
}
