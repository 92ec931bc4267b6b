//! The rapid-shallow index: rate over tidal volume for each kilogram, the form in use for children.
//!
//! Read it as a trend, if at all. In 323 children who had already passed a breathing trial it told
//! success from failure no better than chance (area under the curve 0.57: Intensive Care Med 2002),
//! and in very small infants it can be higher in those who succeed.

use crate::quantity::{Mass, Rate, Saturated, Volume};
use core::fmt;
use fixed::types::I16F16;

/// The index, in breaths a minute for each mL/kg.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[must_use]
pub struct RapidShallow {
    /// The index, rounded half away from zero, relative error up to 2⁻³⁰; clamped at 32 768.
    #[cfg_attr(feature = "defmt", defmt(Debug2Format))]
    pub value: Saturated<I16F16>,
}

/// A cut-off that was published for the index. Data, never advice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ShallowCutoff {
    /// At or below it the authors expected success.
    #[cfg_attr(feature = "defmt", defmt(Debug2Format))]
    pub at: I16F16,
    /// Where, of whom, and how the figure was come by.
    pub source: &'static str,
}

/// Published cut-offs. That of 2024 (below 6.7 in children) stands with the published tests, as its
/// form was not read; that of adults (105 a litre, Yang & Tobin 1991, N Engl J Med 324:1445; from memory)
/// is of another form.
pub const SHALLOW_CUTOFFS: [ShallowCutoff; 2] = [
    cutoff(8, "Thiagarajan 1999, Am J Respir Crit Care Med 160:1562; children; from memory"),
    cutoff(11, "Baumeister 1997; children; from memory"),
];

const fn cutoff(at: i16, source: &'static str) -> ShallowCutoff {
    ShallowCutoff { at: Rate::from_int(at).get(), source }
}

impl RapidShallow {
    /// Rate ÷ tidal volume for each kilogram; `None` where either is not above zero. One wide divide.
    #[must_use]
    pub fn of(rate: Rate, tidal: Volume, mass: Mass) -> Option<Self> {
        if rate <= Rate::ZERO || tidal <= Volume::ZERO {
            return None;
        }
        Some(Self { value: rate.for_each_ml_per_kg(tidal, mass)? })
    }
}

impl ShallowCutoff {
    /// Whether an index lies above it, as a clamped one does.
    #[must_use]
    pub fn is_below(&self, index: &RapidShallow) -> bool {
        index.value.value > self.at
    }
}

impl fmt::Display for RapidShallow {
    /// The number with two decimals and its unit.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let more = if self.value.saturated { "more than " } else { "" };
        write!(f, "{more}{:.2} breaths/min/(mL/kg)", self.value.value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::string::ToString;

    fn index(rate: i16, milli_ml: i32, grams: u32) -> RapidShallow {
        let (rate, tidal) = (Rate::from_int(rate), Volume::from_milli(milli_ml).value);
        RapidShallow::of(rate, tidal, Mass::from_grams(grams).unwrap()).unwrap()
    }

    #[test]
    fn rate_over_volume_for_each_kilogram() {
        // Common practice, no source: 80 ÷ (3.5 ÷ 0.9) = 20.571; 60 ÷ (5 ÷ 1) = 12.
        for (rate, milli, grams, want) in [(80, 3_500, 900, 20.571), (60, 5_000, 1_000, 12.0)] {
            let got = index(rate, milli, grams);
            let value = f64::from(got.value.within().unwrap());
            assert!((value - want).abs() <= 0.001, "{got}: {want}");
        }
    }

    #[test]
    fn beyond_the_range_is_told() {
        // 150 ÷ (0.001 ÷ 1) = 150 000 does not fit.
        let most = index(150, 1, 1_000);
        assert_eq!(most.to_string(), "more than 32768.00 breaths/min/(mL/kg)");
        assert!(SHALLOW_CUTOFFS.iter().all(|cutoff| cutoff.is_below(&most)));
        let mass = Mass::from_grams(900).unwrap();
        assert_eq!(RapidShallow::of(Rate::ZERO, Volume::MAX, mass), None);
        assert_eq!(RapidShallow::of(Rate::MAX, Volume::ZERO, mass), None);
    }

    #[test]
    fn an_index_at_a_cut_off_is_not_above_it() {
        // Thiagarajan 1999 (from memory), 8 breaths/min per mL/kg: 40 of 5 mL in 1 kg = 8.0 lies at
        // it, 41 above.
        let cutoff = SHALLOW_CUTOFFS[0];
        assert!(!cutoff.is_below(&index(40, 5_000, 1_000)));
        assert!(cutoff.is_below(&index(41, 5_000, 1_000)));
    }

    #[test]
    fn the_index_can_be_higher_in_those_who_succeed() {
        // Medians of Vento 2004, J Matern Fetal Neonatal Med (DOI 10.1080/14767050410001668239):
        // 240 mL/min/kg at 43/min in failures, 309 at 53 in successes; index rate² ÷ minute volume
        // = 43² ÷ 240 = 7.70 and 53² ÷ 309 = 9.09.
        let index = |per_kg: f64, rate: i16| {
            let milli = (per_kg / f64::from(rate) * 1_000.0).round() as i32;
            f64::from(index(rate, milli, 1_000).value.value)
        };
        let (failed, succeeded) = (index(240.0, 43), index(309.0, 53));
        assert!((failed - 7.70).abs() < 0.01 && (succeeded - 9.09).abs() < 0.01);
    }
}
