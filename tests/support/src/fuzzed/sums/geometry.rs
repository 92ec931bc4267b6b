//! What physics asks of a tube's bore, in SI units and `f64`: air at 20 °C, viscosity 1.82·10⁻⁵ Pa·s, density
//! 1.204 kg/m³; 1 cmH2O is 98.0665 Pa.

use crate::fuzzed::arguments::{STEP, float, near, number};
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::refused::held;
use std::f64::consts::PI;
use tidevane::mechanics::TubeGeometry;
use tidevane::quantity::{Flow, Pressure, Saturated, Share};

const VISCOSITY: f64 = 1.82e-5;
const DENSITY: f64 = 1.204;
const CMH2O: f64 = 98.066_5;

pub(super) fn check(bytes: &mut Bytes<'_>) -> Option<()> {
    let (tenths, length, inner) = (bytes.u8()? % 50, bytes.u16()? % 450, bytes.u8()? % 50);
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
    let laminar = 128.0 * VISCOSITY * l / (PI * d.powi(4)) / CMH2O / 1e3;
    let got = float(tube.poiseuille().to_bits());
    assert!((got - laminar).abs() <= laminar * 1e-5 + STEP, "{got}, not {laminar}");
    let drop = tube.laminar_drop(flow);
    near(drop.map(Pressure::to_bits), got * q * 1e3, STEP);
    let reynolds = 4.0 * DENSITY * q.abs() / (PI * VISCOSITY * d);
    let re = f64::from(tube.reynolds(flow));
    assert!((re - reynolds).abs() <= 0.51 + reynolds * 1e-5, "{re}, not {reynolds}");
    let speed = q.abs() / (PI * d * d / 4.0);
    let friction = 0.3164 / reynolds.powf(0.25);
    let turbulent = friction * (l / d) * DENSITY * speed * speed / 2.0 / CMH2O * q.signum();
    let turbulent = if q == 0.0 { 0.0 } else { turbulent };
    let blasius = tube.blasius_drop(flow);
    near(blasius.map(Pressure::to_bits), turbulent, turbulent.abs() * 1e-5 + STEP);
    bent(&tube, flow, (bend, reynolds, d), (drop, blasius));
    narrowed(&tube, tenths, inner);
    Some(())
}

fn bent(
    tube: &TubeGeometry,
    flow: Flow,
    (bend, reynolds, d): (u16, f64, f64),
    (laminar, blasius): (Saturated<Pressure>, Saturated<Pressure>),
) {
    let (ratio, drop, least) =
        (tube.bend_ratio(flow, bend), tube.bent_drop(flow, bend), tube.least_drop(flow, bend));
    let wrong = [("bend_mm", !(20..=1_000).contains(&bend))];
    held(&ratio, &wrong);
    held(&drop, &wrong);
    held(&least, &wrong);
    let (Ok(ratio), Ok(drop), Ok(least)) = (ratio, drop, least) else { return };
    let root = (d / 2.0 / (f64::from(bend) * 1e-3)).sqrt();
    let dean = reynolds * root;
    let de = dean.clamp(13.5, 2_000.0);
    let want = if dean < 13.5 { 1.0 } else { 21.5 * de / (1.56 + de.log10()).powf(5.73) };
    let got = float(ratio.value.to_bits());
    // 2·10⁻⁵, and 3·10⁻⁴ in a wide bend: the root of r ÷ Rc is cut to 1/65 536, which half shows where a bend is wide. Near the
    // formula's beginning it is 1 to three digits.
    let cut = STEP / root;
    let slack = if dean < 14.0 { 2e-3 } else { want * (3e-5 + cut / 2.0) + STEP };
    assert!((got - want).abs() <= slack, "{got}, not {want} at {dean}");
    assert!(got >= 1.0 - 1e-3, "a bend that helps: {got}");
    let far = 2_000.0 * (1e-4 + cut);
    assert!(ratio.saturated || dean <= 2_000.0 + far);
    assert!(!ratio.saturated || dean >= 2_000.0 - far);
    let product = float(laminar.value.to_bits()) * got;
    if !laminar.saturated && !ratio.saturated {
        near(drop.map(Pressure::to_bits), product, STEP);
    } else {
        assert!(drop.saturated, "a clamp is not told");
    }
    let size = |drop: Saturated<Pressure>| drop.value.to_bits().unsigned_abs();
    assert!(size(least) <= size(drop), "least {least:?} of {drop:?}");
    assert!(least == drop || (least == blasius && tube.reynolds(flow) > 2_000));
}

/// (wide ÷ narrow)⁴ and ⁵, toward zero.
fn narrowed(tube: &TubeGeometry, tenths: u8, inner: u8) {
    let narrowing = tube.narrowed_to(inner);
    held(&narrowing, &[("inner_tenths", inner == 0 || inner > tenths)]);
    let Ok(narrowing) = narrowing else { return };
    for (got, power) in [(narrowing.laminar, 4), (narrowing.turbulent, 5)] {
        let (wide, narrow) = (u128::from(tenths).pow(power), u128::from(inner).pow(power));
        let want = i128::try_from((wide << 16) / narrow).unwrap();
        crate::fuzzed::whole::exactly(got.map(Share::to_bits), want);
    }
}
