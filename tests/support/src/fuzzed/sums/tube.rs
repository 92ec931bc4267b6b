//! The pressure that a tube loses, by coefficients or by two points.

use crate::fuzzed::arguments::{STEP, float, near, number};
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::refused::held;
use fixed::types::I16F16;
use tidevane::mechanics::TubeResistance;
use tidevane::quantity::{Flow, Pressure, Resistance, SettingError};

pub(super) fn check(bytes: &mut Bytes<'_>) -> Option<()> {
    let (k1, k2) = (number(bytes)?, number(bytes)?);
    let (flow, airway) = (number(bytes)?, number(bytes)?);
    // No longer asked; read, so that a seed keeps its meaning.
    let _ = (bytes.u8()?, bytes.u16()?);
    let made = TubeResistance::new(Resistance::from_bits(k1), I16F16::from_bits(k2));
    coefficients(&made, k1.into(), k2.into());
    points([flow, airway, k1, k2].map(|bits| bits.saturating_abs()));
    let Ok(tube) = made else { return Some(()) };
    assert_eq!(tube.coefficients(), (Resistance::from_bits(k1), I16F16::from_bits(k2)));
    lost(&tube, (float(k1), float(k2)), Flow::from_bits(flow));
    Some(())
}

fn coefficients(made: &Result<TubeResistance, SettingError>, k1: i64, k2: i64) {
    held(
        made,
        &[
            ("k1", !(0..=1_000 << 16).contains(&k1)),
            ("k2", !(0..=10_000 << 16).contains(&k2)),
            ("k1", k1 == 0 && k2 == 0),
        ],
    );
}

/// Through two points: it has their drops.
fn points([q1, p1, more, p2]: [i32; 4]) {
    let q2 = q1.saturating_add(more);
    let at = |q: i32, p: i32| (Flow::from_bits(q), Pressure::from_bits(p));
    let made = TubeResistance::from_points(at(q1, p1), at(q2, p2));
    let name = made.as_ref().err().map(|error| error.parameter);
    assert_eq!(name == Some("first_flow"), q1 <= 0);
    assert_eq!(name == Some("second_flow"), q1 > 0 && q2 <= q1);
    let Ok(tube) = made else {
        let known = ["first_flow", "second_flow", "first_drop", "second_drop", "k1", "k2"];
        assert!(name.is_some_and(|name| known.contains(&name)), "{name:?}");
        return;
    };
    if q2 > 3_000 << 16 {
        return;
    }
    let (a, b) = (float(q1) / 1e3, float(q2) / 1e3);
    // A step in each quotient: of K1 and of both drops, and of K2, which grows with the flows.
    for (q, p, flow, steps) in [(q1, p1, a, 4.0 + 2.0 * a), (q2, p2, b, 6.0 + 4.0 * b)] {
        let drop = float(tube.drop(Flow::from_bits(q)).value.to_bits());
        let slack = STEP * (2.0 + steps * flow);
        assert!((drop - float(p)).abs() <= slack, "{drop}, not {} ± {slack}", float(p));
    }
}

fn lost(tube: &TubeResistance, (k1, k2): (f64, f64), flow: Flow) {
    let q = float(flow.to_bits()) / 1_000.0;
    let cut = q.clamp(-3.0, 3.0);
    let r = k1 + k2 * cut.abs();
    let (drop, is_cut) = (cut * r, q != cut);
    let got = tube.drop(flow);
    if is_cut {
        assert!(got.saturated);
        return;
    }
    let slack = STEP + drop.abs() * 1e-6;
    near(got.map(Pressure::to_bits), drop, slack);
    if !got.saturated {
        let back = tube.drop(Flow::from_bits(flow.to_bits().saturating_neg()));
        assert_eq!(back.value.to_bits(), -got.value.to_bits(), "not the same both ways");
    }
}
