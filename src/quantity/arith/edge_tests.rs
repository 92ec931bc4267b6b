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
