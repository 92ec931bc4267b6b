//! Rapid-shallow index, dead space and tension-time index, against `f64`.

use crate::fuzzed::arguments::{STEP, float, mass, near, number, seconds, span};
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::words::said;
use tidevane::bedside::{
    CutoffSide, Form, NoIndex, NoTensionTime, RapidShallow, SHALLOW_CUTOFFS, TENSION_CUTOFFS,
    anatomical_dead_space, occlusion_mean, tension_time,
};
use tidevane::quantity::{Duration, Mass, MinuteVolumePerKg, Pressure, Rate, Volume};

/// 35.8 minutes, the longest that short times go.
const SHORT_US: u64 = i32::MAX as u64;

pub(super) fn shallow(bytes: &mut Bytes<'_>) -> Option<()> {
    let (rate, tidal) = (Rate::from_bits(number(bytes)?), Volume::from_bits(number(bytes)?));
    let (mass, age) = (mass(bytes)?, span(bytes)?);
    let (r, v) = (float(rate.to_bits()), float(tidal.to_bits()));
    let kg = f64::from(mass.grams()) / 1_000.0;
    for (index, form, want) in [
        (RapidShallow::per_ml(rate, tidal), Form::PerMl, r / v),
        (RapidShallow::per_ml_per_kg(rate, tidal, mass), Form::PerMlPerKg, r * kg / v),
        (RapidShallow::per_litre(rate, tidal), Form::PerLitre, r * 1_000.0 / v),
    ] {
        match index {
            Err(why) => {
                let is_rate = why == NoIndex::NoRate;
                assert!(if is_rate { r <= 0.0 } else { r > 0.0 && v <= 0.0 }, "{why} of {r}, {v}");
                said(&why);
            }
            Ok(index) => {
                assert!(r > 0.0 && v > 0.0 && index.form == form);
                // 2⁻³⁰ relative and half a step.
                near(index.value.map(|v| v.to_bits()), want, STEP / 2.0 + want * 1e-9 + 1e-12);
                assert_eq!(said(&index).starts_with("more than "), index.value.saturated);
                cutoffs(&index);
            }
        }
    }
    dead_space(mass, age);
    minute(rate, tidal, mass);
    Some(())
}

fn cutoffs(index: &RapidShallow) {
    for cutoff in &SHALLOW_CUTOFFS {
        let want = match (cutoff.form == index.form, index.value.value <= cutoff.at) {
            (false, _) => CutoffSide::OtherForm,
            (true, true) => CutoffSide::AtOrBelow,
            (true, false) => CutoffSide::Above,
        };
        assert_eq!(cutoff.beside(index), want);
    }
}

/// Within 0.001 mL/kg of (3.28 − 0.56 ln(1 + age)) mL/kg, and less with age; none where that is below zero, and said.
fn dead_space(mass: Mass, age: Duration) {
    let got = anatomical_dead_space(mass, age);
    let (kg, years) = (f64::from(mass.grams()) / 1_000.0, seconds(age) / 31_557_600.0);
    let want = (3.28 - 0.56 * (1.0 + years).ln()) * kg;
    let (ml, slack) = (float(got.value.to_bits()), 0.001 * kg + STEP);
    assert!((ml - want.max(0.0)).abs() <= slack, "{got:?}, not {want}");
    assert!(if got.saturated { want < slack } else { want > -slack }, "{got:?}, not {want}");
    let older = anatomical_dead_space(mass, Duration::from_us(age.to_us().saturating_mul(2)));
    assert!(older.value <= got.value, "{older:?} when older than with {got:?}");
}

/// The volume a minute that the same breaths make.
fn minute(rate: Rate, tidal: Volume, mass: Mass) {
    let got = MinuteVolumePerKg::of_breaths(tidal, rate, mass);
    let kg = f64::from(mass.grams()) / 1_000.0;
    let want = float(tidal.to_bits()) * float(rate.to_bits()).max(0.0) / kg;
    near(got.map(MinuteVolumePerKg::to_bits), want, STEP + want.abs() * 1e-9);
    let whole = MinuteVolumePerKg::from_bits(tidal.to_bits()).of_body(mass);
    near(whole.map(Volume::to_bits), float(tidal.to_bits()) * kg, STEP);
    near(tidal.for_each_kg(mass).map(Volume::to_bits), float(tidal.to_bits()) * kg, STEP);
    let per_kg = MinuteVolumePerKg::of(tidal, mass);
    near(per_kg.map(MinuteVolumePerKg::to_bits), float(tidal.to_bits()) / kg, STEP);
}

pub(super) fn tension(bytes: &mut Bytes<'_>) -> Option<()> {
    let (mean, largest) =
        (Pressure::from_bits(number(bytes)?), Pressure::from_bits(number(bytes)?));
    let (insp, breath) = (span(bytes)?, span(bytes)?);
    let (m, l) = (float(mean.to_bits()), float(largest.to_bits()));
    let is_long = |span: Duration| span.to_us() > SHORT_US;
    match tension_time(mean, largest, insp, breath) {
        Err(why) => {
            let wrong = match why {
                NoTensionTime::NoPressure => m < 0.0 || l <= 0.0,
                _ => insp.is_zero() || insp > breath || is_long(insp) || is_long(breath),
            };
            assert!(wrong, "{why}: {m} {l} {insp} {breath}");
            said(&why);
        }
        Ok(index) => {
            assert!(m >= 0.0 && l > 0.0 && !insp.is_zero() && insp <= breath);
            let want = m / l * (seconds(insp) / seconds(breath));
            near(index.map(|share| share.to_bits()), want, STEP / 2.0 + want * 1e-9 + 1e-12);
            for cutoff in &TENSION_CUTOFFS {
                assert_eq!(cutoff.is_exceeded(index.value), index.value > cutoff.above);
            }
        }
    }
    let occluded = occlusion_mean(mean, insp);
    assert!(occluded.saturated || !is_long(insp), "a time that was cut is not told");
    if !is_long(insp) {
        let want = 5.0 * m * seconds(insp);
        near(occluded.map(Pressure::to_bits), want, STEP / 2.0 + want.abs() * 1e-12 + 1e-9);
    }
    Some(())
}
