//! Rapid-shallow index and dead space, against `f64`.

use crate::fuzzed::arguments::{STEP, float, mass, near, number, seconds, span};
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::words::said;
use tidevane::bedside::{RapidShallow, SHALLOW_CUTOFFS, anatomical_dead_space};
use tidevane::quantity::{Duration, Mass, MinuteVolumePerKg, Rate, Volume};

pub(super) fn shallow(bytes: &mut Bytes<'_>) -> Option<()> {
    let (rate, tidal) = (Rate::from_bits(number(bytes)?), Volume::from_bits(number(bytes)?));
    let (mass, age) = (mass(bytes)?, span(bytes)?);
    let (r, v) = (float(rate.to_bits()), float(tidal.to_bits()));
    let kg = f64::from(mass.grams()) / 1_000.0;
    let index = RapidShallow::of(rate, tidal, mass);
    assert_eq!(index.is_some(), r > 0.0 && v > 0.0);
    if let Some(index) = index {
        let want = r * kg / v;
        // 2⁻³⁰ relative and half a step.
        near(index.value.map(|v| v.to_bits()), want, STEP / 2.0 + want * 1e-9 + 1e-12);
        assert_eq!(said(&index).starts_with("more than "), index.value.saturated);
        for cutoff in &SHALLOW_CUTOFFS {
            assert_eq!(cutoff.is_below(&index), index.value.value > cutoff.at);
        }
    }
    dead_space(mass, age);
    minute(tidal, mass);
    Some(())
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

/// A volume for each kilogram, and by the kilogram.
fn minute(tidal: Volume, mass: Mass) {
    let kg = f64::from(mass.grams()) / 1_000.0;
    near(tidal.for_each_kg(mass).map(Volume::to_bits), float(tidal.to_bits()) * kg, STEP);
    let per_kg = MinuteVolumePerKg::of(tidal, mass);
    near(per_kg.map(MinuteVolumePerKg::to_bits), float(tidal.to_bits()) / kg, STEP);
}
