//! The rapid-shallow index: rate over tidal volume, in the three forms that are in use.
//!
//! Read it as a trend, if at all. In 323 children who had already passed a breathing trial it told
//! success from failure no better than chance (area under the curve 0.57: Intensive Care Med 2002),
//! and in very small infants it can be higher in those who succeed.

use crate::quantity::{Mass, Rate, Saturated, Volume, arith};
use core::fmt;
use fixed::types::I16F16;

/// What the rate is divided by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Form {
    /// Tidal volume in mL.
    PerMl,
    /// Tidal volume in mL for each kilogram.
    PerMlPerKg,
    /// Tidal volume in litres; the form of adults.
    PerLitre,
}

/// The index in one of its forms, in breaths a minute for each unit of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[must_use]
pub struct RapidShallow {
    /// Which form.
    pub form: Form,
    /// The index, half away from zero, 2⁻³⁰ relative. At most 32 768: 60 breaths of 1.8 mL and less
    /// are beyond that per litre, and so marked.
    #[cfg_attr(feature = "defmt", defmt(Debug2Format))]
    pub value: Saturated<I16F16>,
}

/// Why there is no index.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum NoIndex {
    /// The rate is not above zero.
    NoRate,
    /// The tidal volume is not above zero.
    NoVolume,
}

/// A cut-off that was published for the index. Data, never advice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ShallowCutoff {
    /// Which form it belongs to.
    pub form: Form,
    /// At or below it the authors expected success.
    #[cfg_attr(feature = "defmt", defmt(Debug2Format))]
    pub at: I16F16,
    /// Where, of whom, and how the figure was come by.
    pub source: &'static str,
}

/// An index beside a cut-off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum CutoffSide {
    /// At or below it.
    AtOrBelow,
    /// Above it.
    Above,
    /// They are of two forms and cannot be compared.
    OtherForm,
}

/// Published cut-offs. That of 2024 (below 6.7 in children) stands with the published tests, as its
/// form was not read.
pub const SHALLOW_CUTOFFS: [ShallowCutoff; 3] = [
    cutoff(
        Form::PerMlPerKg,
        8,
        "Thiagarajan 1999, Am J Respir Crit Care Med 160:1562; children; from memory",
    ),
    cutoff(Form::PerMlPerKg, 11, "Baumeister 1997; children; from memory"),
    cutoff(Form::PerLitre, 105, "Yang & Tobin 1991, N Engl J Med 324:1445; adults; from memory"),
];

const fn cutoff(form: Form, at: i16, source: &'static str) -> ShallowCutoff {
    let at = I16F16::from_bits(arith::whole_to_bits(at));
    ShallowCutoff { form, at, source }
}

impl RapidShallow {
    /// Rate ÷ tidal volume, in mL, mL for each kilogram of body mass, or litres; of the mass the others know nothing. One
    /// wide divide.
    ///
    /// # Errors
    /// Rate or volume not above zero.
    pub fn of(form: Form, rate: Rate, tidal: Volume, mass: Mass) -> Result<Self, NoIndex> {
        let (top, bottom) = match form {
            Form::PerMl => (1, 1),
            Form::PerMlPerKg => (mass.grams(), 1_000),
            Form::PerLitre => (1_000, 1),
        };
        if rate <= Rate::ZERO {
            return Err(NoIndex::NoRate);
        }
        if tidal <= Volume::ZERO {
            return Err(NoIndex::NoVolume);
        }
        let one = arith::ONE.unsigned_abs();
        let under = (tidal.to_bits().unsigned_abs(), bottom);
        match arith::scaled_by_products(rate.to_bits(), (one, top), under) {
            Some(value) => Ok(Self { form, value: value.map(I16F16::from_bits) }),
            None => Err(NoIndex::NoVolume),
        }
    }
}

impl ShallowCutoff {
    /// Where an index lies. A clamped one lies above.
    #[must_use]
    pub fn beside(&self, index: &RapidShallow) -> CutoffSide {
        if index.form != self.form {
            CutoffSide::OtherForm
        } else if index.value.value <= self.at {
            CutoffSide::AtOrBelow
        } else {
            CutoffSide::Above
        }
    }
}

impl fmt::Display for RapidShallow {
    /// The number with two decimals and its unit.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let more = if self.value.saturated { "more than " } else { "" };
        write!(f, "{more}{:.2} {}", self.value.value, self.form)
    }
}

impl fmt::Display for Form {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::PerMl => "breaths/min/mL",
            Self::PerMlPerKg => "breaths/min/(mL/kg)",
            Self::PerLitre => "breaths/min/L",
        })
    }
}

impl fmt::Display for NoIndex {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::NoRate => "no rate",
            Self::NoVolume => "no tidal volume",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::string::ToString;

    fn forms(rate: i16, milli_ml: i32, grams: u32) -> [RapidShallow; 3] {
        let (rate, tidal) = (Rate::from_int(rate), Volume::from_milli(milli_ml).value);
        let mass = Mass::from_grams(grams).unwrap();
        [
            RapidShallow::of(Form::PerMl, rate, tidal, mass).unwrap(),
            RapidShallow::of(Form::PerMlPerKg, rate, tidal, mass).unwrap(),
            RapidShallow::of(Form::PerLitre, rate, tidal, mass).unwrap(),
        ]
    }

    #[test]
    fn three_forms_of_one_index() {
        // Common practice, no source: 80 ÷ 3.5 = 22.857; 80 ÷ (3.5 ÷ 0.9) = 20.571; 80 ÷ 0.0035 =
        // 22 857.14. 60 ÷ 5 = 12; 60 ÷ (5 ÷ 1) = 12; 60 ÷ 0.005 = 12 000.
        for (rate, milli, grams, want) in [
            (80, 3_500, 900, [22.857, 20.571, 22_857.14]),
            (60, 5_000, 1_000, [12.0, 12.0, 12_000.0]),
        ] {
            for (got, want) in forms(rate, milli, grams).iter().zip(want) {
                let value = f64::from(got.value.within().unwrap().to_bits()) / 65_536.0;
                assert!((value - want).abs() <= 0.01, "{got}: {want}");
            }
        }
    }

    #[test]
    fn beyond_the_range_is_told() {
        // 60 ÷ 0.001 = 60 000 a litre does not fit; 60 a mL does.
        let [per_ml, _, per_litre] = forms(60, 1_000, 500);
        assert!(per_litre.value.saturated && !per_ml.value.saturated);
        assert_eq!(per_litre.to_string(), "more than 32768.00 breaths/min/L");
        assert_eq!(SHALLOW_CUTOFFS[2].beside(&per_litre), CutoffSide::Above);
        let mass = Mass::from_grams(900).unwrap();
        assert_eq!(
            RapidShallow::of(Form::PerMl, Rate::ZERO, Volume::MAX, mass),
            Err(NoIndex::NoRate)
        );
        let none = RapidShallow::of(Form::PerMlPerKg, Rate::MAX, Volume::ZERO, mass);
        assert_eq!(none, Err(NoIndex::NoVolume));
    }

    #[test]
    fn cut_offs_belong_to_their_form() {
        // Thiagarajan 1999 (from memory), 8 breaths/min per mL/kg: 40 of 5 mL in 1 kg = 8.0 lies at
        // it, 41 above.
        let cutoff = SHALLOW_CUTOFFS[0];
        assert_eq!(cutoff.beside(&forms(40, 5_000, 1_000)[1]), CutoffSide::AtOrBelow);
        assert_eq!(cutoff.beside(&forms(41, 5_000, 1_000)[1]), CutoffSide::Above);
        assert_eq!(cutoff.beside(&forms(40, 5_000, 1_000)[0]), CutoffSide::OtherForm);
    }

    #[test]
    fn the_index_can_be_higher_in_those_who_succeed() {
        // Medians of Vento 2004, J Matern Fetal Neonatal Med (DOI 10.1080/14767050410001668239):
        // 240 mL/min/kg at 43/min in failures, 309 at 53 in successes; index rate² ÷ minute volume
        // = 43² ÷ 240 = 7.70 and 53² ÷ 309 = 9.09.
        let index = |per_kg: f64, rate: i16| {
            let milli = (per_kg / f64::from(rate) * 1_000.0).round() as i32;
            f64::from(forms(rate, milli, 1_000)[1].value.value.to_bits()) / 65_536.0
        };
        let (failed, succeeded) = (index(240.0, 43), index(309.0, 53));
        assert!((failed - 7.70).abs() < 0.01 && (succeeded - 9.09).abs() < 0.01);
    }
}
