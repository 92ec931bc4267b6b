//! The volume that never reaches gas exchange.

use crate::quantity::{Duration, Mass, Saturated, Volume, arith};

/// A year of 365.25 days.
const YEAR: Duration = Duration::from_us(31_557_600_000_000);
/// 3.28 mL/kg: 3.28 × 65 536 = 214 958.08.
const AT_BIRTH: i32 = 214_958;
/// 0.56 mL/kg: 0.56 × 65 536 = 36 700.16.
const PER_LOG: i32 = 36_700;

/// Anatomical dead space for age and mass: (3.28 − 0.56 ln(1 + age in years)) mL/kg, after Numa &
/// Newth 1996, J Appl Physiol 80:1485-1489; within 0.001 mL/kg of that formula. It is the whole of
/// it, upper airway included (2.3 of the 3.28 in infancy): a tube bypasses that part and adds its own
/// lumen, and sensor and connector come on top. Never below zero, and said to be clamped where the formula
/// is, from an age of 349 years on, which can be no infant's.
///
/// Ventilated preterm infants were found to have more (Dassios 2018, Pediatr Pulmonol: 3.7 against
/// 2.4 mL/kg at term).
pub fn anatomical_dead_space(mass: Mass, age: Duration) -> Saturated<Volume> {
    let years = age.ratio(YEAR).map_or(0, |r| r.value.to_bits());
    let log = arith::ln_q16(arith::add(arith::ONE, years).value).unwrap_or(0);
    let less = arith::mul_q16(PER_LOG, log).value;
    let per_kg = arith::sub(AT_BIRTH, less).value;
    // below 2^18 × 200 000 g ÷ 1000 < 2^26: cannot clamp
    let space = arith::scale_ratio(per_kg.max(0), mass.grams(), 1_000).value;
    Saturated { value: Volume::from_bits(space), saturated: per_kg < 0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn space(grams: u32, years: f64) -> Saturated<f64> {
        let age = Duration::from_us((years * 31_557_600_000_000.0) as u64);
        let space = anatomical_dead_space(Mass::from_grams(grams).unwrap(), age);
        space.map(|space| f64::from(space.to_bits()) / 65_536.0)
    }

    fn ml(grams: u32, years: f64) -> f64 {
        space(grams, years).within().unwrap()
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
    fn none_is_left_beyond_the_end_of_the_formula() {
        // 3.28 ÷ 0.56 = ln(1 + 348.7): at 348 years 0.56 × ln(349.7 ÷ 349) = 0.0012 mL/kg are left, at 350 less than none.
        assert!((ml(1_000, 348.0) - 0.001_2).abs() < 0.000_2, "{}", ml(1_000, 348.0));
        for (grams, years) in [(1_000, 350.0), (200_000, 500_000.0)] {
            assert_eq!(space(grams, years), Saturated { value: 0.0, saturated: true }, "{years}");
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
