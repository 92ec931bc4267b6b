//! Integration and leak against an independent count in `f64` and `i128`.

use proptest::prelude::*;
use tidevane::breath::{PhaseIntegrals, Totals};
use tidevane::leak::Leak;
use tidevane::quantity::{Duration, Flow, Volume};
use tidevane::signal::{End, Interval};
use tidevane_support::units::float;

fn interval(us: u64, from: Flow, to: Flow) -> Interval {
    let end = |flow| End { flow, ..End::default() };
    Interval { span: Duration::from_us(us), from: end(from), to: end(to), ..Interval::default() }
}

/// Sums over samples of a function of time, every `step_us`.
fn integrate(flow_at: impl Fn(f64) -> f64, step_us: u64, end_us: u64) -> PhaseIntegrals {
    let bits = |t_us: u64| {
        let value = flow_at(t_us as f64 / 1e6) * 65_536.0;
        Flow::from_bits(value.round() as i32)
    };
    let (begun, mut totals) = (Totals::default(), Totals::default());
    let mut t = 0;
    while t + step_us <= end_us {
        totals.add(&interval(step_us, bits(t), bits(t + step_us)));
        t += step_us;
    }
    totals.since(&begun)
}

fn volume(sums: &PhaseIntegrals) -> f64 {
    float(sums.volume().within().unwrap().to_bits())
}

#[test]
fn half_a_sine_is_integrated_as_the_trapezoidal_rule_says() {
    // Arithmetic: 50 mL/s × 0.4 s × 2/π = 12.7324 mL exactly; the trapezoidal rule
    // gives 12.7258 at 100 Hz (−0.051 %), −0.206 % at 50 Hz and −0.0129 % at 200 Hz.
    let exact = 50.0 * 0.4 * 2.0 / std::f64::consts::PI;
    assert!((exact - 12.732_4).abs() < 1e-4);
    let sine = |t: f64| 50.0 * (std::f64::consts::PI * t / 0.4).sin();
    let at_100 = volume(&integrate(sine, 10_000, 400_000));
    assert!((at_100 - 12.725_8).abs() < 1e-4, "{at_100}");
    for (step_us, percent) in [(20_000, -0.206), (10_000, -0.051), (5_000, -0.012_9)] {
        let off = (volume(&integrate(sine, step_us, 400_000)) / exact - 1.0) * 100.0;
        assert!((off - percent).abs() < 1e-3, "{step_us} µs: {off} %");
    }
}

#[test]
fn an_offset_adds_its_own_volume() {
    // Arithmetic: 0.1 L/min over 1 s = 1.6667 mL.
    let offset = volume(&integrate(|_| 100.0 / 60.0, 10_000, 1_000_000));
    assert!((offset - 1.666_7).abs() < 1e-4, "{offset}");
}

proptest! {
    /// 10 s of any flow: the sum is that of `i128` to the last bit, the reading within half a step.
    #[test]
    fn sums_are_exact(
        samples in prop::collection::vec((1_u32..100_000, any::<i32>()), 1..500),
    ) {
        let (begun, mut totals) = (Totals::default(), Totals::default());
        let (mut exact, mut last) = (0_i128, 0_i32);
        for (span_us, bits) in samples {
            totals.add(&interval(span_us.into(), Flow::from_bits(last), Flow::from_bits(bits)));
            exact += (i128::from(last) + i128::from(bits)) * i128::from(span_us);
            last = bits;
        }
        // doubled bits × µs → bits × s
        let wanted = exact as f64 / 2e6;
        let got = totals.since(&begun).volume();
        if got.saturated {
            prop_assert!(wanted.abs() >= f64::from(i32::MAX) - 1.0, "{wanted}");
        } else {
            prop_assert!((f64::from(got.value.to_bits()) - wanted).abs() <= 0.500_001);
        }
    }

    /// The leak share within one step of `f64`, whatever the volumes.
    #[test]
    fn leak_share_agrees(inspired in 1_i32..i32::MAX, expired in any::<i32>()) {
        let leak = Leak::of(Volume::from_bits(inspired), Volume::from_bits(expired));
        let wanted = (f64::from(inspired) - f64::from(expired)) / f64::from(inspired);
        match leak {
            Leak::Share(s) | Leak::Negative(s) => {
                prop_assert!((float(s.to_bits()) - wanted).abs() <= 1.0 / 65_536.0 + wanted.abs() * 1e-9);
                prop_assert_eq!(matches!(leak, Leak::Negative(_)), s.to_bits() < 0);
            }
            Leak::Unknown(_) => prop_assert!(wanted.abs() > 32_767.0, "{wanted}"),
        }
    }
}
