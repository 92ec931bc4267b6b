//! Operations against an independent count in `f64` and `i128`.

use crate::quantity::arith;
use proptest::prelude::*;

fn float(bits: i32) -> f64 {
    f64::from(bits) / 65_536.0
}

/// Doubled areas where a factor in place of a divide would go wrong first: about each half step,
/// and the ends.
#[test]
fn areas_round_at_every_half_step() {
    let exact = |doubled: i64| {
        let (n, d) = (i128::from(doubled), 2_000_000_i128);
        let half_away = (2 * n.abs() + d) / (2 * d) * n.signum();
        half_away.clamp(i32::MIN.into(), i32::MAX.into())
    };
    let halves =
        (0..2_000_i64).chain(2_147_483_000..2_147_483_700).map(|i| i * 2_000_000 + 1_000_000);
    let near = halves.flat_map(|half| [half - 1, half, half + 1]);
    let ends = [i64::MAX, i64::MAX - 1, i64::MIN + 1, i64::MIN, 0, 1, 1 << 62, (1 << 57) - 1];
    for doubled in near.chain(ends) {
        for doubled in [doubled, doubled.checked_neg().unwrap_or(i64::MAX)] {
            assert_eq!(i128::from(arith::area_to_q16(doubled).value), exact(doubled), "{doubled}");
        }
    }
}

proptest! {
    #[test]
    fn areas_agree(doubled in prop_oneof![any::<i64>(), -5_000_000_000_000_000..5_000_000_000_000_000_i64]) {
        let (n, d) = (i128::from(doubled), 2_000_000_i128);
        let exact = (2 * n.abs() + d) / (2 * d) * n.signum();
        let got = arith::area_to_q16(doubled);
        prop_assert_eq!(got.saturated, i32::try_from(exact).is_err());
        prop_assert_eq!(i128::from(got.value), exact.clamp(i32::MIN.into(), i32::MAX.into()));
    }

    /// A mean is where it is found by dividing.
    #[test]
    fn a_mean_is_held_against_bounds_without_a_divide(
        sum in -40_000_i64..40_000,
        count in 1_u32..40,
        bounds in (-300_i32..300, -300_i32..300),
    ) {
        let (low, high) = bounds;
        let mean = arith::mean_of(sum, count);
        prop_assert_eq!(
            arith::mean_is_within(sum, count, low, high),
            (low..=high).contains(&mean)
        );
    }

    /// The table root: 4·10⁻⁵ relative and one step.
    #[test]
    fn root_agrees(bits in any::<i32>()) {
        let got = float(arith::root_q16(bits));
        let wanted = float(bits).abs().sqrt() * f64::from(bits.signum());
        let allowed = 4e-5 * wanted.abs() + 1.0 / 65_536.0;
        prop_assert!((got - wanted).abs() <= allowed, "√{}: {got} against {wanted}", float(bits));
    }

    #[test]
    fn products_and_ratios_agree(a in any::<i32>(), b in any::<i32>()) {
        let product = arith::mul_q16(a, b);
        let wanted = (i128::from(a) * i128::from(b) + (1 << 15)) >> 16;
        let clamped = wanted.clamp(i128::from(i32::MIN), i128::from(i32::MAX));
        prop_assert_eq!(i128::from(product.value), clamped);
        prop_assert_eq!(product.saturated, clamped != wanted);
        match arith::ratio_q16(i64::from(a), i64::from(b)) {
            None => prop_assert_eq!(b, 0),
            Some(ratio) => {
                let wanted = (i128::from(a) << 16) / i128::from(b);
                let clamped = wanted.clamp(i128::from(i32::MIN), i128::from(i32::MAX));
                prop_assert_eq!(i128::from(ratio.value), clamped);
                prop_assert_eq!(ratio.saturated, clamped != wanted);
            }
        }
    }

    /// Of spans of any length, and of such as lie within a ratio of 32 768.
    #[test]
    fn ratios_of_spans_are_exact(a in any::<u64>(), b in any::<u64>(), shift in 0..64_u32) {
        for (n, d) in [(a, b), (a, b >> (shift % 20)), (a >> shift, b), (a >> shift, b >> shift)] {
            let wanted = (u128::from(n) << 16).checked_div(u128::from(d));
            let clamped = wanted.map(|bits| bits.min(i32::MAX as u128));
            let got = arith::exact_ratio_q16(n, d);
            prop_assert_eq!(got.map(|ratio| ratio.value as u128), clamped, "{} of {}", n, d);
            prop_assert_eq!(got.is_some_and(|ratio| ratio.saturated), wanted != clamped);
            prop_assert_eq!(arith::span_ratio_q16(n, d), got.filter(|_| n > 0));
        }
    }

    #[test]
    fn wide_ratios_and_products_agree(n in any::<i64>(), d in any::<i64>(), k in any::<i32>()) {
        if let Some(ratio) = arith::ratio_q16(n, d) {
            let wanted = n as f64 / d as f64 * 65_536.0;
            if ratio.saturated {
                prop_assert!(wanted.abs() > f64::from(i32::MAX) * 0.999, "{wanted}");
            } else {
                prop_assert!((f64::from(ratio.value) - wanted).abs() <= 1.0 + wanted.abs() * 1e-9);
            }
        } else {
            prop_assert_eq!(d, 0);
        }
        let product = arith::mul_wide(n, k);
        let wanted = (i128::from(n) * i128::from(k)) >> 16;
        if product.saturated {
            prop_assert!(wanted.unsigned_abs() >= (i64::MAX as u128) - (1 << 33), "{wanted}");
        } else {
            prop_assert_eq!(i128::from(product.value), wanted);
        }
    }

    #[test]
    fn scaling_rounds_half_away(value in any::<i32>(), n in 1_u32..10_000_000, d in 1_u32..10_000_000) {
        let got = arith::scale_ratio(value, n, d);
        let product = i128::from(value) * i128::from(n);
        let wanted = (product.abs() * 2 + i128::from(d)) / (2 * i128::from(d)) * product.signum();
        let clamped = wanted.clamp(i128::from(i32::MIN), i128::from(i32::MAX));
        prop_assert_eq!(i128::from(got.value), clamped);
        prop_assert_eq!(got.saturated, wanted != clamped);
    }

    /// What every sample costs, against `i128`, at any operand.
    #[test]
    fn steps_agree(
        a in any::<i32>(), b in any::<i32>(), c in any::<i32>(), span in any::<u32>(),
        share in -10_000_i32..80_000, shift in 0_u32..40,
    ) {
        let wide = |x: i32| i128::from(x);
        let (low, high) = (a.min(b), a.max(b));
        prop_assert_eq!(i128::from(arith::away(a, b)), wide(b) - wide(a));
        let limit = c.checked_abs().unwrap_or(i32::MAX);
        prop_assert_eq!(arith::is_within_span(a, limit), wide(a).abs() <= wide(limit));
        let lowpass = arith::lowpass(a, b, shift);
        prop_assert_eq!(wide(lowpass), wide(a) + ((wide(b) - wide(a)) >> shift.min(31)));
        prop_assert!((low..=high).contains(&lowpass), "{lowpass}");
        let part = arith::part_way(a, b, share);
        let q16 = wide(share.clamp(0, 65_536));
        prop_assert_eq!(wide(part), wide(a) + (((wide(b) - wide(a)) * q16) >> 16));
        prop_assert!((low..=high).contains(&part), "{part}");
        let area = (wide(a) + wide(b) - 2 * wide(c)) * i128::from(span.min(1 << 29));
        prop_assert_eq!(i128::from(arith::trapezoid_over(a, b, c, span)), area);
        let apart = (i128::from(arith::away(a, b)) >> 8).pow(2);
        prop_assert_eq!(i128::from(arith::square_apart(arith::away(a, b))), apart);
        prop_assert_eq!(arith::square_apart(i64::from(a)), arith::square_q16(a));
        let tau = ((i128::from(span) * i128::from(c.unsigned_abs())) >> 16).min(i32::MAX.into());
        prop_assert_eq!(wide(arith::part_of_tau(span, c.unsigned_abs())), tau);
    }

    #[test]
    fn spread_agrees(values in prop::collection::vec(-6_553_600_i32..6_553_600, 1..60)) {
        let (mut sum, mut squares) = (0_i64, 0_u64);
        for v in &values {
            sum += i64::from(*v);
            squares += arith::square_q16(*v);
        }
        let n = values.len() as f64;
        let mean = values.iter().map(|v| float(*v)).sum::<f64>() / n;
        let variance = values.iter().map(|v| (float(*v) - mean).powi(2)).sum::<f64>() / n;
        let got = float(arith::spread_q16(values.len() as u32, sum, squares));
        // Squares keep 8 fraction bits of values up to 100: 100 × 2/256 of variance at the most.
        prop_assert!((got * got - variance).abs() <= 1.0 + variance * 1e-3, "{got} {variance}");
    }

    /// Points of a leak, window after window, against least squares in `f64`.
    #[test]
    fn a_line_is_that_of_least_squares(
        points in prop::collection::vec((0.05_f64..4.0, 0.0_f64..40.0, -20.0_f64..60.0), 2..12),
        at in 0.0_f64..40.0,
    ) {
        let bits = |x: f64| (x * 65_536.0).round() as i32;
        let (mut sums, mut want) = ([0_i64; 5], [0.0; 5]);
        for &(w, x, y) in &points {
            let point = arith::line_point((w * 4_096.0).round() as i64, bits(x), bits(y));
            sums.iter_mut().zip(point).for_each(|(sum, part)| *sum += part - (*sum >> 3));
            let point = [w, w * x, w * x * x, w * y, w * x * y];
            want.iter_mut().zip(point).for_each(|(sum, part): (&mut f64, _)| *sum += part - *sum / 8.0);
        }
        let [w, x, xx, y, xy] = want;
        let spread = xx - x * x / w;
        prop_assume!(spread > 1.0);
        let (slope, doubt) = ((xy - x * y / w) / spread, 1.0 / w + (at - x / w).powi(2) / spread);
        let slope = slope.max(0.0);
        let got = arith::line_fit(&sums).unwrap();
        // Weights and values are within 1/8 192: relatively 2.5·10⁻³ of a weight of 0.05.
        let allowed = 0.01 + slope * 0.005;
        prop_assert!((float(got.slope) - slope).abs() < allowed, "{got:?}, not {slope}");
        let offset = (y - slope * x) / w;
        prop_assert!((float(got.offset) - offset).abs() < 40.0 * allowed, "{got:?}, not {offset}");
        let got = float(arith::line_doubt(&sums, bits(at)));
        prop_assert!((got - doubt.sqrt()).abs() < 0.01 * doubt.sqrt(), "{got}, not {}", doubt.sqrt());
    }

    /// Products and quotients against doubles, at any operand.
    #[test]
    fn scaled_products_are_near(
        value in any::<i32>(), a in any::<u32>(), b in any::<u32>(), c in any::<u32>(), d in any::<u32>(),
        parts in any::<u16>(),
    ) {
        let want = f64::from(value) * f64::from(a) * f64::from(b) / f64::from(c) / f64::from(d);
        match arith::scaled_by_products(value, (a, b), (c, d)) {
            None => prop_assert!(c == 0 || d == 0),
            Some(got) if got.saturated => prop_assert!(want.abs() > 2_147_483_640.0, "{want}"),
            Some(got) => {
                prop_assert!((f64::from(got.value) - want).abs() <= 0.5 + 3e-9 * want.abs(), "{want}");
            }
        }
        let _ = (arith::parts_of(value, parts), arith::parts_in(value, a as i32), arith::on_grid(value, parts));
    }
}
