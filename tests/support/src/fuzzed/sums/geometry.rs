//! What physics asks of a tube's bore, in SI units and `f64`: air at 20 °C, viscosity 1.82·10⁻⁵ Pa·s, density
//! 1.204 kg/m³; 1 cmH2O is 98.0665 Pa.

use crate::fuzzed::arguments::{STEP, float, number};
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::refused::held;
use std::f64::consts::PI;
use tidevane::mechanics::TubeGeometry;
use tidevane::quantity::Flow;

const VISCOSITY: f64 = 1.82e-5;
const DENSITY: f64 = 1.204;
const CMH2O: f64 = 98.066_5;

pub(super) fn check(bytes: &mut Bytes<'_>) -> Option<()> {
    let (tenths, length, _) = (bytes.u8()? % 50, bytes.u16()? % 450, bytes.u8()?);
    let (flow, bend) = (number(bytes)?, bytes.u16()? % 1_100);
    let made = TubeGeometry::new(tenths, length);
    held(
        &made,
        &[
            ("inner_tenths", !(20..=45).contains(&tenths)),
            ("length_mm", !(20..=400).contains(&length)),
        ],
    );
    let Ok(tube) = made else { return Some(()) };
    let (d, l) = (f64::from(tenths) * 1e-4, f64::from(length) * 1e-3);
    let q = float(flow) * 1e-6;
    let flow = Flow::from_bits(flow);
    let least = tube.least_drop(flow, bend);
    held(&least, &[("bend_mm", !(20..=1_000).contains(&bend))]);
    let Ok(least) = least else { return Some(()) };
    let laminar = 128.0 * VISCOSITY * l / (PI * d.powi(4)) / CMH2O * q;
    let reynolds = 4.0 * DENSITY * q.abs() / (PI * VISCOSITY * d);
    let speed = q.abs() / (PI * d * d / 4.0);
    let friction = 0.3164 / reynolds.powf(0.25);
    let turbulent = friction * (l / d) * DENSITY * speed * speed / 2.0 / CMH2O * q.signum();
    let turbulent = if q == 0.0 { 0.0 } else { turbulent };
    let root = (d / 2.0 / (f64::from(bend) * 1e-3)).sqrt();
    let dean = reynolds * root;
    let de = dean.clamp(13.5, 2_000.0);
    let ratio = if dean < 13.5 { 1.0 } else { 21.5 * de / (1.56 + de.log10()).powf(5.73) };
    // The root of r ÷ Rc is cut to 1/65 536, which half shows where a bend is wide. Near the formula's beginning it is 1
    // to three digits.
    let slack = if dean < 14.0 { 2e-3 } else { ratio * (5e-5 + STEP / root / 2.0) + STEP };
    let (got, bent) = (float(least.value.to_bits()), laminar * ratio);
    if least.saturated {
        assert!(dean > 1_990.0 || bent.abs() > 32_767.0, "{got}: {bent} at {dean}");
        return Some(());
    }
    let is_bent = (got - bent).abs() <= laminar.abs() * slack + 3.0 * STEP;
    let is_rough = (got - turbulent).abs() <= turbulent.abs() * 2e-5 + 2.0 * STEP;
    assert!(is_bent || (is_rough && reynolds > 1_999.0), "{got}, not {bent} or {turbulent}");
    assert!(got.abs() <= bent.abs() + laminar.abs() * slack + 3.0 * STEP, "{got} of {bent}");
    Some(())
}
