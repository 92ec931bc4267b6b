//! The volume that never reaches gas exchange.

use crate::breath::DEAD_SPACE;
use crate::quantity::{Duration, Mass, Saturated, Share, Volume};

/// A year of 365.25 days.
const YEAR: Duration = Duration::from_us(31_557_600_000_000);
/// For each kilogram; so is that at birth.
const PER_LOG: Volume = Volume::milli::<560>();

/// Anatomical dead space for age and mass: (3.28 − 0.56 ln(1 + age in years)) mL/kg, after Numa &
/// Newth 1996, J Appl Physiol 80:1485-1489; within 0.001 mL/kg of that formula. It is the whole of
/// it, upper airway included (2.3 of the 3.28 in infancy): a tube bypasses that part and adds its own
/// lumen, and sensor and connector come on top. Never below zero, and said to be clamped where the formula
/// is, from an age of 349 years on, which can be no infant's.
///
/// Ventilated preterm infants were found to have more (Dassios 2018, Pediatr Pulmonol: 3.7 against
/// 2.4 mL/kg at term).
pub fn anatomical_dead_space(mass: Mass, age: Duration) -> Saturated<Volume> {
    let years = age.ratio(YEAR).map_or(Share::ZERO, |ratio| ratio.value);
    let log = Share::ONE.saturating_add(years).value.ln().unwrap_or(Share::ZERO);
    let per_kg = DEAD_SPACE.saturating_sub(PER_LOG.times(log).value).value;
    // At most 3.28 mL/kg × 200 kg: cannot clamp.
    let space = per_kg.max(Volume::ZERO).for_each_kg(mass).value;
    Saturated { value: space, saturated: per_kg < Volume::ZERO }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn space(grams: u32, years: f64) -> Saturated<f64> {
        let age = Duration::from_us((years * 31_557_600_000_000.0) as u64);
        let space = anatomical_dead_space(Mass::from_grams(grams).unwrap(), age);
        space.map(|space| space.to_f64())
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
        // Between lies a day on which just nothing is left, and that is exact.
        let mut days = (0..800).map(|day| space(1_000, 348.0 + f64::from(day) / 365.25));
        let first = days.find(|space| space.value == 0.0);
        assert_eq!(first, Some(Saturated { value: 0.0, saturated: false }));
        for (grams, years) in [(1_000, 350.0), (200_000, 500_000.0)] {
            assert_eq!(space(grams, years), Saturated { value: 0.0, saturated: true }, "{years}");
        }
    }
}
