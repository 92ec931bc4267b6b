//! The compliance that a cohort's regressions expect in the first hours of life.
//!
//! Three straight lines over one cohort of 78 infants (abstract indexed as scilit 26b96be4). They
//! agree within 2 % at its means and part away from them: for an infant of 34 weeks, 0.83 kg and 33
//! cm they expect 1.79, 1.38 and 1.02, and 0.91 mL/cmH2O was measured. Data to hold a measurement
//! against, never advice.

use crate::quantity::{Compliance, Mass, SettingError, arith};
use fixed::types::I16F16;

/// From gestation in weeks (22 to 44): 0.087 × weeks − 1.173 mL/cmH2O, within two steps of
/// 1/65 536.
///
/// # Errors
/// `gestation` outside that range.
pub fn compliance_by_gestation(weeks: I16F16) -> Result<Compliance, SettingError> {
    within("gestation", weeks, 22, 44)?;
    Ok(line(weeks.to_bits(), 1_459_618, -1_173)) // 0.087 × 2^24 = 1 459 617.8
}

/// From birth weight (400 g to 6 kg): 0.372 × kg + 1.067 mL/cmH2O, within two steps of 1/65 536.
///
/// # Errors
/// `weight` outside that range.
pub fn compliance_by_weight(weight: Mass) -> Result<Compliance, SettingError> {
    SettingError::within("weight", weight.grams(), 400, 6_000)?;
    let kg = arith::scale_ratio(arith::ONE, weight.grams(), 1_000).value;
    Ok(line(kg, 6_241_124, 1_067)) // 0.372 × 2^24 = 6 241 124.4
}

/// From length in cm (25 to 60): 0.076 × cm − 1.493 mL/cmH2O, within two steps of 1/65 536.
///
/// # Errors
/// `length` outside that range.
pub fn compliance_by_length(cm: I16F16) -> Result<Compliance, SettingError> {
    within("length", cm, 25, 60)?;
    Ok(line(cm.to_bits(), 1_275_068, -1_493)) // 0.076 × 2^24 = 1 275 068.4
}

fn within(name: &'static str, value: I16F16, least: i16, most: i16) -> Result<(), SettingError> {
    let bound = |whole| I16F16::from_bits(arith::whole_to_bits(whole));
    SettingError::within(name, value, bound(least), bound(most))
}

/// slope (Q24) × value + offset (thousandths); below 60 × 1 + 2, cannot clamp.
fn line(value: i32, slope: i32, offset_milli: i32) -> Compliance {
    let rising = Compliance::from_bits(arith::weighted(value, slope));
    rising.saturating_add(Compliance::from_milli(offset_milli).value).value
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Problem;

    fn three(weeks: f64, grams: u32, cm: f64) -> [f64; 3] {
        [
            compliance_by_gestation(I16F16::from_num(weeks)),
            compliance_by_weight(Mass::from_grams(grams).unwrap()),
            compliance_by_length(I16F16::from_num(cm)),
        ]
        .map(|c| f64::from(c.unwrap().to_bits()) / 65_536.0)
    }

    #[test]
    fn the_lines_agree_at_the_means_and_part_beyond() {
        // Abstract indexed as scilit 26b96be4; cohort means 36.2 weeks, 2.418 kg, 45.2 cm:
        // 3.1494 − 1.173 = 1.9764, 0.8995 + 1.067 = 1.9665, 3.4352 − 1.493 = 1.9422. The outlier of
        // 34 weeks, 0.83 kg, 33 cm: 1.785, 1.3758, 1.015.
        for (got, want) in [
            (three(36.2, 2_418, 45.2), [1.9764, 1.9665, 1.9422]),
            (three(34.0, 830, 33.0), [1.785, 1.3758, 1.015]),
        ] {
            for (got, want) in got.iter().zip(want) {
                assert!((got - want).abs() < 1e-4, "{got} {want}");
            }
        }
    }

    #[test]
    fn outside_their_range_they_say_nothing() {
        let problem = |r: Result<Compliance, SettingError>| r.map_err(|e| (e.parameter, e.problem));
        let (small, large) = (Err(("gestation", Problem::TooSmall)), Problem::TooLarge);
        assert_eq!(problem(compliance_by_gestation(I16F16::from_num(21.9))), small);
        let length = compliance_by_length(I16F16::from_num(60.1));
        assert_eq!(problem(length), Err(("length", large)));
        let weight = compliance_by_weight(Mass::from_grams(6_001).unwrap());
        assert_eq!(problem(weight), Err(("weight", large)));
    }
}
