//! Which unit would make values plausible: a guess, never done.

use crate::input::unit::Role;
use crate::text::decimals;

/// The mean size of flow in mL/s for each kilogram: between no breathing at all and the largest leaks. Twice 250 mL/kg a
/// minute is 8. Chosen here, no source.
pub(super) const FLOW_PER_KG: [f64; 2] = [1.5, 60.0];
/// No infant breathes with less, in mL/s: 0.3 kg at half of what is usual. Chosen here, no source.
pub(super) const FLOW_LEAST: f64 = 1.0;
/// What flow is usually, in mL/s for each kilogram; infants without a weight have 0.5 to 5 kg.
const USUAL: [f64; 2] = [4.0, 24.0];
const KG: [f64; 2] = [0.5, 5.0];
/// Where a pressure in the middle, and its highest, usually lie in cmH2O.
const MIDDLE: [f64; 2] = [2.5, 16.0];
const HIGHEST: [f64; 2] = [6.0, 45.0];
/// The same of steps from sample to sample, in seconds.
const STEP: [f64; 2] = [0.000_9, 0.05];
/// Air at the height of the sea, give or take, in cmH2O.
const AIR: [f64; 2] = [850.0, 1_150.0];

/// The units of a role that make a value plausible, with what they do to it.
fn fitting(role: Role, factor: f64, fits: impl Fn(f64) -> bool) -> Option<String> {
    let found: Vec<_> = role
        .others(factor)
        .filter(|(_, times)| fits(*times))
        .map(|(name, times)| format!("{name} (times {})", told(times)))
        .collect();
    (!found.is_empty()).then(|| format!("is it in {}?", found.join(" or ")))
}

fn told(times: f64) -> String {
    match times {
        t if t >= 100.0 => decimals(t, 0),
        t if t >= 1.0 => decimals(t, 1).trim_end_matches(".0").into(),
        t => format!("1/{}", told(1.0 / t)),
    }
}

pub(super) fn flow(mean: f64, kg: Option<f64>, factor: f64) -> Option<String> {
    let [low, high] = kg.map_or([USUAL[0] * KG[0], USUAL[1] * KG[1]], |kg| USUAL.map(|x| x * kg));
    fitting(Role::Flow, factor, |times| (low..=high).contains(&(mean * times)))
}

pub(super) fn pressure(middle: f64, high: f64, factor: f64) -> Option<String> {
    fitting(Role::Pressure, factor, |times| {
        (MIDDLE[0]..=MIDDLE[1]).contains(&(middle * times))
            && (HIGHEST[0]..=HIGHEST[1]).contains(&(high * times))
    })
}

pub(super) fn far_pressure(mean: f64, factor: f64) -> String {
    if (AIR[0]..=AIR[1]).contains(&mean) {
        return "is it absolute, with that of the air (about 1033 cmH2O) in it?".into();
    }
    let fits = |times| (MIDDLE[0]..=HIGHEST[1]).contains(&(mean * times));
    fitting(Role::Pressure, factor, fits).unwrap_or_else(|| "its unit may be another".into())
}

pub(super) fn time(step_s: f64, factor: f64) -> Option<String> {
    fitting(Role::Time, factor, |times| (STEP[0]..=STEP[1]).contains(&(step_s * times)))
}
