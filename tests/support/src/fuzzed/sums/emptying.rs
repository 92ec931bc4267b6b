//! How far a lung empties, and what the regressions expect of it.

use crate::fuzzed::arguments::{STEP, float, near, number, seconds, span};
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::refused::held;
use fixed::types::I16F16;
use tidevane::mechanics::{
    Emptying, SteadyState, compliance_by_gestation, compliance_by_length, compliance_by_weight,
    exhaled_share, flow_cycle_time,
};
use tidevane::quantity::{Compliance, Duration, Mass, Pressure, Share, Volume};

pub(super) fn check(bytes: &mut Bytes<'_>) -> Option<()> {
    let (a, b, tau) = (span(bytes)?, span(bytes)?, span(bytes)?);
    let (fraction, rise, compliance) = (number(bytes)?, number(bytes)?, number(bytes)?);
    shares(a, tau);
    assert!(exhaled_share(a.max(b), tau) >= exhaled_share(a.min(b), tau), "less after longer");
    cycle(tau, Share::from_bits(fraction));
    steady([a, b, tau], Pressure::from_bits(rise), Compliance::from_bits(compliance));
    expected(fraction, rise, compliance);
    Some(())
}

/// 1 − e^(−t/τ), and whether three time constants have passed.
fn shares(span: Duration, tau: Duration) {
    let (share, emptying) = (exhaled_share(span, tau), Emptying::of(span, tau));
    if tau.is_zero() {
        assert_eq!((share, emptying), (None, Emptying::Unknown));
        return;
    }
    let left = (-seconds(span) / seconds(tau)).exp();
    let got = float(share.unwrap().to_bits());
    assert!((got - (1.0 - left)).abs() <= 1.01 * STEP, "{got} for {left}");
    match emptying {
        Emptying::Complete => assert!(u128::from(span.to_us()) >= 3 * u128::from(tau.to_us())),
        Emptying::Short { left: got } => {
            assert!(u128::from(span.to_us()) < 3 * u128::from(tau.to_us()));
            let got = float(got.to_bits());
            assert!((got - left).abs() <= STEP, "{got} for {left}");
        }
        Emptying::Unknown => panic!("a time constant of {tau} is known"),
    }
}

/// −τ·ln(share), τ up to 35.8 minutes.
fn cycle(tau: Duration, fraction: Share) {
    let time = flow_cycle_time(tau, fraction);
    held(&time, &[("fraction", fraction <= Share::ZERO || fraction > Share::ONE)]);
    let Ok(time) = time else { return };
    if tau.to_us() > 35 * 60_000_000 {
        return;
    }
    let (tau, share) = (tau.to_us() as f64, float(fraction.to_bits()));
    let (got, want) = (time.to_us() as f64, -tau * share.ln());
    assert!((got - want).abs() <= 1.0 + tau / (131_072.0 * share), "{got} µs, not {want}");
}

fn steady([insp, exp, tau]: [Duration; 3], rise: Pressure, compliance: Compliance) {
    let Ok(cycle) = SteadyState::new(insp, exp, tau) else { return };
    // (1 − a)·b ÷ (1 − ab) and (1 − a)(1 − b) ÷ (1 − ab), by differences that do not cancel.
    let (x, y) = (seconds(insp) / seconds(tau), seconds(exp) / seconds(tau));
    let gone = |x: f64| -(-x).exp_m1();
    let (held, moved) = (gone(x) * (-y).exp() / gone(x + y), gone(x) * gone(y) / gone(x + y));
    let (p, c) = (float(rise.to_bits()), float(compliance.to_bits()));
    // What is left of a time constant is known to 4·10⁻⁶, which is much of what moves where breaths are short against it.
    let slack = 1e-5 / gone(x + y);
    let peep = float(cycle.auto_peep(rise).to_bits());
    assert!(
        (peep - held * p).abs() <= slack * p.abs() + STEP,
        "{peep}, not {}: {insp} {exp} {tau} {rise} {cycle:?}",
        held * p
    );
    let full = p * c;
    for (got, part) in
        [(cycle.held_volume(rise, compliance), held), (cycle.tidal_volume(rise, compliance), moved)]
    {
        let beyond = !(-32_768.0 - STEP..=32_768.0).contains(&full);
        if got.saturated || beyond {
            assert!(got.saturated && full.abs() >= 32_767.9, "{got:?}: {full}");
        } else {
            near(got.map(Volume::to_bits), part * full, slack * full.abs() + 2.0 * STEP);
        }
    }
}

/// Three straight lines, each within two steps.
fn expected(a: i32, b: i32, c: i32) {
    let (weeks, cm) = (I16F16::from_bits(a), I16F16::from_bits(b));
    let grams = c.unsigned_abs() >> 12;
    let out = |bits: i32, low: i32, high: i32| !(low << 16..=high << 16).contains(&bits);
    let close = |got: Compliance, want: f64| {
        assert!((float(got.to_bits()) - want).abs() <= 2.0 * STEP, "{got}, not {want}");
    };
    let got = compliance_by_gestation(weeks);
    held(&got, &[("gestation", out(a, 22, 44))]);
    got.into_iter().for_each(|got| close(got, 0.087 * float(a) - 1.173));
    let got = compliance_by_length(cm);
    held(&got, &[("length", out(b, 25, 60))]);
    got.into_iter().for_each(|got| close(got, 0.076 * float(b) - 1.493));
    let Ok(mass) = Mass::from_grams(grams) else { return };
    let got = compliance_by_weight(mass);
    held(&got, &[("weight", !(400..=6_000).contains(&grams))]);
    got.into_iter().for_each(|got| close(got, 0.372 * f64::from(grams) / 1e3 + 1.067));
}
