//! The pressure that a tube loses, by coefficients from each of their three sources.

use crate::fuzzed::arguments::{STEP, float, near, number};
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::made;
use crate::fuzzed::refused::held;
use crate::fuzzed::whole::rounded;
use fixed::types::I16F16;
use tidevane::mechanics::{TubeGeometry, TubeLoss, TubeResistance};
use tidevane::quantity::{Flow, Instant, Pressure, Resistance, SettingError, Share};

pub(super) fn check(bytes: &mut Bytes<'_>) -> Option<()> {
    let (k1, k2) = (number(bytes)?, number(bytes)?);
    let (flow, airway) = (number(bytes)?, number(bytes)?);
    let (tenths, length) = (bytes.u8()? % 50, bytes.u16()? % 450);
    let made = TubeResistance::new(Resistance::from_bits(k1), I16F16::from_bits(k2));
    coefficients(&made, k1.into(), k2.into());
    per_minute(k1, k2);
    points([flow, airway, k1, k2].map(|bits| bits.saturating_abs()));
    let Ok(tube) = made else { return Some(()) };
    assert_eq!(tube.coefficients(), (Resistance::from_bits(k1), I16F16::from_bits(k2)));
    let slow = tube.per_minute();
    assert_eq!(i128::from(slow.0.to_bits()), rounded(k1.into(), 60));
    assert_eq!(i128::from(slow.1.to_bits()), rounded(k2.into(), 3_600));
    lost(&tube, (float(k1), float(k2)), Flow::from_bits(flow), Pressure::from_bits(airway));
    if let Ok(geometry) = TubeGeometry::new(tenths, length) {
        let flow = Flow::from_bits(flow);
        let less = tube.resistance(flow).value < geometry.poiseuille();
        assert_eq!(tube.is_below_physics(&geometry, flow), less);
    }
    let breath = made::breath(bytes, Instant::from_us(1))?.breath;
    let loss = TubeLoss::of(&tube, &breath);
    assert_eq!(loss.inspiratory, tube.drop(breath.peak_insp_flow));
    assert_eq!(loss.expiratory, tube.drop(breath.peak_exp_flow));
    assert!(loss.inspiratory.value >= Pressure::ZERO && loss.expiratory.value >= Pressure::ZERO);
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

/// × 60 and × 3 600.
fn per_minute(k1: i32, k2: i32) {
    let made = TubeResistance::from_per_minute(I16F16::from_bits(k1), I16F16::from_bits(k2));
    coefficients(&made, i64::from(k1) * 60, i64::from(k2) * 3_600);
    let Ok(tube) = made else { return };
    let got = tube.coefficients();
    assert_eq!((got.0.to_bits(), got.1.to_bits()), (k1 * 60, k2 * 3_600));
    assert_eq!(tube.per_minute(), (I16F16::from_bits(k1), I16F16::from_bits(k2)));
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

fn lost(tube: &TubeResistance, (k1, k2): (f64, f64), flow: Flow, airway: Pressure) {
    let q = float(flow.to_bits()) / 1_000.0;
    let cut = q.clamp(-3.0, 3.0);
    let (r, p) = (k1 + k2 * cut.abs(), float(airway.to_bits()));
    let (drop, is_cut) = (cut * r, q != cut);
    let (got, resistance, tracheal) =
        (tube.drop(flow), tube.resistance(flow), tube.tracheal(airway, flow));
    let share = tube.share_of_support(airway, flow);
    assert_eq!(share.is_some(), airway > Pressure::ZERO);
    if is_cut {
        assert!(got.saturated && resistance.saturated && tracheal.saturated);
        assert!(share.is_none_or(|share| share.saturated));
        return;
    }
    let slack = STEP + drop.abs() * 1e-6;
    near(got.map(Pressure::to_bits), drop, slack);
    near(resistance.map(Resistance::to_bits), r, STEP + r * 1e-6);
    if !got.saturated {
        near(tracheal.map(Pressure::to_bits), p - drop, slack);
        let back = tube.drop(Flow::from_bits(flow.to_bits().saturating_neg()));
        assert_eq!(back.value.to_bits(), -got.value.to_bits(), "not the same both ways");
        if let Some(share) = share {
            let want = float(got.value.to_bits()) / p;
            near(share.map(Share::to_bits), want, STEP * 1.01);
        }
    }
}
