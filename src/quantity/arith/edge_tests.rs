//! The last value on one side of a bound and the first on the other.

use crate::quantity::arith::{self, LINE_ONE, ONE};

#[test]
fn each_point_of_the_root_table_is_the_nearest() {
    for i in 32..=128_u64 {
        let exact = (i as f64 / 32.0).sqrt() * 32_768.0;
        let nearest = (exact.round() as u32).min(65_535);
        assert_eq!(super::root_of_32nds(i), nearest, "root of {i} 32nds: {exact}");
    }
}

#[test]
fn a_ratio_is_exact_up_to_the_largest() {
    // 2^31 - 1 steps of 1/65 536; one more is beyond.
    let most = arith::ratio_q16(i32::MAX.into(), 65_536).unwrap();
    assert_eq!((most.value, most.saturated), (i32::MAX, false));
    let beyond = arith::ratio_q16(1 << 31, 65_536).unwrap();
    assert_eq!((beyond.value, beyond.saturated), (i32::MAX, true));
    // 2^62 over 1 and over -1, and over what is left of 1 when both are shortened.
    for (top, bottom, want) in
        [(1_i64 << 62, 1, i32::MAX), (1 << 62, -1, i32::MIN), (-(1 << 62), 1, i32::MIN)]
    {
        let ratio = arith::ratio_q16(top, bottom).unwrap();
        assert_eq!((ratio.value, ratio.saturated), (want, true), "{top} / {bottom}");
    }
    assert!(arith::ratio_q16(5, 0).is_none());
}

#[test]
fn the_smallest_ratio_is_in_range() {
    // -32 768 is -2^31 steps, the smallest there is: reached, not clamped. One step of the numerator more is beyond
    // where the denominator is one.
    for (top, bottom, clamped) in [
        (-(1 << 31), 65_536, false),
        (1 << 31, -65_536, false),
        (-(1_i64 << 46), 1 << 31, false),
        (-(1 << 31) - 1, 65_536, true),
        (-(1_i64 << 46), (1 << 31) - 1, true),
    ] {
        let ratio = arith::ratio_q16(top, bottom).unwrap();
        assert_eq!((ratio.value, ratio.saturated), (i32::MIN, clamped), "{top} / {bottom}");
    }
}

#[test]
fn weights_stay_between_none_and_one() {
    for (weight, want) in
        [(-5, 0), (0, 0), (LINE_ONE / 2, ONE / 2), (LINE_ONE, ONE), (LINE_ONE + 1, ONE)]
    {
        assert_eq!(arith::weight_share(weight), want, "{weight}");
    }
    // One second weighs one, four and more sixteen.
    for (us, want) in [(1_000_000, 1), (2_000_000, 4), (4_000_000, 16), (9_000_000, 16)] {
        assert_eq!(arith::square_weight(us), want * 4_096, "{us} us");
    }
}

#[test]
fn a_scale_down_keeps_to_its_range() {
    let most = i128::from(i64::MAX);
    for (x, by, want) in [
        (most, 0, i64::MAX),
        (most + 1, 0, i64::MAX),
        (-most - 1, 0, i64::MIN),
        (-most - 2, 0, i64::MIN),
        (1, -62, 1 << 62),
        (1, -63, i64::MAX),
        (-1, -63, i64::MIN),
        (-1, -200, i64::MIN),
        (-1, 200, -1),
        (1, 200, 0),
    ] {
        assert_eq!(arith::scaled_down(x, by), want, "{x} by 2^{by}");
    }
}

#[test]
fn a_quotient_keeps_to_its_range() {
    // 3 / 2 x 2^n, half away from zero, clamped to 2^31 - 1.
    for (power, want, beyond) in [
        (-3, 0, false),
        (-2, 0, false),
        (-1, 1, false),
        (0, 2, false),
        (29, 805_306_368, false),
        (30, 1_610_612_736, false),
        (31, i32::MAX, true),
        (40, i32::MAX, true),
        (200, i32::MAX, true),
        (-200, 0, false),
    ] {
        let got = arith::quotient(3, 2, 1, power).unwrap();
        assert_eq!((got.value, got.saturated), (want, beyond), "3/2 x 2^{power}");
        let got = arith::quotient(-3, 2, 1, power).unwrap();
        let want = if beyond { i32::MIN } else { -want };
        assert_eq!((got.value, got.saturated), (want, beyond), "-3/2 x 2^{power}");
    }
    assert!(arith::quotient(1, 0, 1, 0).is_none());
    assert_eq!(arith::quotient(1, 3, 0, 0).unwrap().value, 0);
}

#[test]
fn points_of_a_line_are_cut_on_either_side() {
    // x 128 cmH2O and y 1 024 mL/s at most, kept at 12 fraction bits, half up; a weight of none below zero.
    let one = LINE_ONE;
    let (x, y) = (128 << 12, 1_024_i64 << 12);
    let parts = |w: i64, x: i64, y: i64| [w << 12, w * x, w * x * x, w * y, w * x * y];
    assert_eq!(arith::line_point(one, i32::MAX, i32::MIN), parts(one, x, -y));
    assert_eq!(arith::line_point(one, i32::MIN, i32::MAX), parts(one, -x, y));
    assert_eq!(arith::line_point(-5, 1 << 16, 1 << 16), [0; 5]);
    assert_eq!(arith::line_point(one, 8, 7), parts(one, 1, 0));
    // Weights above one are none of one end's; a tail over less than 90 ms counts as over 40.
    assert_eq!(arith::shrunk_weight(one + 1, 0, 1 << 16), 0);
    assert_eq!(arith::shrunk_weight(0, 0, 1 << 16), 0);
    let tails = [10_000, 89_999, 90_000, 91_000].map(|us| arith::tail_of(4_000, us));
    assert_eq!(tails, [25_000, 25_000, 25_000, 24_390]); // 4 000 x 250 / 40, / 41
}

#[test]
fn bits_stand_where_they_are_put() {
    let set = [0, 1, 31, 32, 40].map(arith::bit);
    assert_eq!(set, [1, 2, 1 << 31, 0, 0]);
    assert_eq!((arith::push_bit(5, true), arith::push_bit(1 << 31, false)), (11, 0));
}

#[test]
fn powers_and_logarithms_hold_to_their_ends() {
    // 2^-30 is one step of 2^-30, 2^-31 is none; a Dean number of 2 000 is the last that is followed.
    assert_eq!((arith::half_power_q30(30 << 26), arith::half_power_q30(31 << 26)), (1, 0));
    assert_eq!(arith::half_power_q30(0), 1 << 30);
    let most = 2_000 << 16;
    let (last, beyond) = (arith::bend_ratio_q16(most), arith::bend_ratio_q16(most + 1));
    assert_eq!((last.saturated, beyond.saturated), (false, true));
    assert_eq!(last.value, beyond.value);
    assert_eq!((arith::ln_q16(0), arith::ln_q16(65_536)), (None, Some(0)));
}

#[test]
fn spans_shares_and_counts_hold_to_their_ends() {
    // By one divide below 2⁴⁸, bit by bit from there on. 2⁴⁸ over 2³³ is 32 768, which is beyond; one less above, or
    // one more below, is within.
    for (n, d, want, clamped) in [
        ((1_u64 << 48) - 1, 1 << 33, i32::MAX, false),
        (1 << 48, 1 << 33, i32::MAX, true),
        (1 << 48, (1 << 33) + 1, i32::MAX, false),
        (u64::MAX, 1, i32::MAX, true),
        (1, u64::MAX, 0, false),
        (u64::MAX, (1 << 63) + 1, 131_071, false),
    ] {
        let got = arith::span_ratio_q16(n, d).unwrap();
        assert_eq!((got.value, got.saturated), (want, clamped), "{n} of {d}");
    }
    let all = 1 << 46;
    assert_eq!((arith::count_share(all, all), arith::count_share(all + 1, all)), (Some(ONE), None));
    assert_eq!(arith::count_share(all, all + 1), None);
    // 1 000 of 60 000 by 32 bits and 2 000 of 120 000 by 64: 1 092 of 65 536, toward zero.
    for (part, whole, want) in [
        (1_000, 60_000, 1_092),
        (2_000, 120_000, 1_092),
        (0, 60_000, 0),
        (0, 120_000, 0),
        (7, 7, ONE),
    ] {
        assert_eq!(arith::short_share_q16(part, whole), want, "{part} of {whole}");
    }
    // 6.553 5 wholes are 65 535 parts, the most.
    assert_eq!(arith::parts_in(65_535, 10_000), Some(65_535));
    assert_eq!((arith::parts_in(65_536, 10_000), arith::parts_in(0, 1)), (None, None));
    // The longest span, 2^31 - 1 us, at the ends of the range: -2^32 x (2^31 - 1), which 64 bits hold.
    let longest = (1 << 31) - 1;
    assert_eq!(arith::trapezoid(i32::MIN, i32::MIN, longest), -(1 << 32) * ((1 << 31) - 1));
    assert_eq!(arith::trapezoid(1, 1, 1 << 30), 1 << 31);
    assert_eq!(arith::trapezoid_over(3, 3, 1, u32::MAX), 4 << 29);
    assert_eq!(arith::add_us(u32::MAX - 5, 3), u32::MAX - 2);
    assert_eq!(arith::add_us(5, u64::MAX), u32::MAX);
}

#[test]
fn a_drop_beside_the_law_of_blasius_keeps_its_sign() {
    // 0.3164 Re^-1/4 L/d rho v^2/2 at 100 mL/s in 4.0 mm and 140 mm: v 7.958 m/s, Re 4Q/(pi d nu) = 2 105 or so,
    // 0.0467 x 35 x 38.1 Pa = 62.3 Pa = 0.635 cmH2O.
    let [there, back] = [100, -100].map(|ml: i32| arith::blasius_q16(ml << 16, 40, 140));
    assert_eq!((there.value, there.saturated), (-back.value, back.saturated));
    let got = f64::from(there.value) / 65_536.0;
    assert!((got - 0.635).abs() < 0.005, "{got} cmH2O, not 0.635");
    assert_eq!(arith::blasius_q16(0, 40, 140).value, 0);
}
