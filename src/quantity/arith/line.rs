//! A straight line through weighted points, by least squares.
//!
//! | operation | operands | result | rounding | overflow |
//! |---|---|---|---|---|
//! | [`line_point`] | weight Q12, 0 to 16, Q16, Q16 | sums | points keep 12 fraction bits | cut to ±128 and ±1 024 |
//! | [`line_fit`] | sums | Q16 | toward zero | clamps; `None` without weight |
//! | [`line_mean`] | sums | Q16 | toward zero | clamps; zero without weight |
//! | [`line_doubt`] | sums, Q16 | Q16 | toward zero | clamps |
//! | [`square_weight`] | µs | Q12 | toward zero | cut to 16 |
//! | [`tail_of`] | Q16, µs | Q16 | toward zero | clamps |
//! | [`weight_share`] | Q12 | Q16 | exact | cut to 0 to 1 |
//! | [`shrunk_weight`] | Q12, Q16, Q16 | Q12 | toward zero | cannot |

use super::{isqrt, ratio_q16};

/// Σw, Σwx and Σwy in Q24, Σwx² and Σwxy in Q36.
pub(crate) type LineSums = [i64; 5];

/// A weight of one.
pub(crate) const LINE_ONE: i64 = 1 << 12;

const MOST_WEIGHT: i64 = 16 * LINE_ONE;
/// In Q12.
const MOST_X: i64 = 128 << 12;
const MOST_Y: i64 = 1_024 << 12;

/// Q16 to Q12, half up.
const fn cut(x: i32, most: i64) -> i64 {
    let x = (x as i64 + 8) >> 4;
    if x > most {
        most
    } else if x < -most {
        -most
    } else {
        x
    }
}

/// The sums of one point. With a weight up to 2¹⁶, x up to 2¹⁹ and y up to 2²² none is above 2⁵⁷.
#[must_use]
#[inline(never)]
pub(crate) const fn line_point(weight: i64, x: i32, y: i32) -> LineSums {
    let w = if weight > MOST_WEIGHT {
        MOST_WEIGHT
    } else if weight < 0 {
        0
    } else {
        weight
    };
    let (x, y) = (cut(x, MOST_X), cut(y, MOST_Y));
    let (wx, wy) = (w.wrapping_mul(x), w.wrapping_mul(y));
    [w << 12, wx, wx.wrapping_mul(x), wy, wx.wrapping_mul(y)]
}

/// What the points say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct LineFit {
    /// y per x; zero where all points have one x.
    pub(crate) slope: i32,
    /// y at no x.
    pub(crate) offset: i32,
}

/// By a weight; zero for none.
const fn divided(x: i64, w: i64) -> i64 {
    if w > 0 { x / w } else { 0 }
}

/// The middle x of the points (Q12, toward zero), what that leaves of Σwx (Q24), and the spread of x
/// about it (Q36); `None` without weight.
const fn middle(sums: &LineSums) -> Option<(i64, i64, i64)> {
    let [w, wx, wxx, ..] = *sums;
    if w <= 0 {
        return None;
    }
    let x = divided(wx << 12, w);
    let left = wx.wrapping_sub(x.wrapping_mul(w) >> 12);
    let spread = wxx.wrapping_sub(x.wrapping_mul(wx.wrapping_add(left)));
    Some((x, left, if spread < 0 { 0 } else { spread }))
}

/// The line of least squares whose slope is not below zero; `None` without weight.
///
/// Nothing wraps: a window keeps at most eight times the largest sums of a point, each product below
/// stays below 2⁶⁰, and their sum below 2⁶².
#[must_use]
pub(crate) const fn line_fit(sums: &LineSums) -> Option<LineFit> {
    let [w, wx, _, wy, wxy] = *sums;
    let Some((x, left, spread)) = middle(sums) else { return None };
    let beside = x.wrapping_mul(wy).wrapping_add(divided(wy << 12, w).wrapping_mul(left));
    let along = wxy.wrapping_sub(beside);
    let slope = match ratio_q16(along, spread) {
        Some(slope) if slope.value > 0 => slope.value,
        _ => 0,
    };
    // The slope in Q16 times Σwx in Q16, back to Q24.
    let rest = wy.wrapping_sub((slope as i64).wrapping_mul(wx >> 8) >> 8);
    match ratio_q16(rest, w) {
        Some(offset) => Some(LineFit { slope, offset: offset.value }),
        None => None,
    }
}

/// The mean y, Q16, toward zero; zero without weight.
#[must_use]
pub(crate) const fn line_mean(sums: &LineSums) -> i32 {
    match ratio_q16(sums[3], sums[0]) {
        Some(mean) => mean.value,
        None => 0,
    }
}

/// How far, in standard deviations of a point of weight one, the line is in doubt at x: the root of
/// 1/Σw + (x − middle)² ÷ spread. `i32::MAX` without weight.
#[must_use]
pub(crate) const fn line_doubt(sums: &LineSums, x: i32) -> i32 {
    let Some((middle, _, spread)) = middle(sums) else { return i32::MAX };
    let away = cut(x, MOST_X).wrapping_sub(middle);
    // 1/Σw in Q32: 2⁵⁶ ÷ Q24. Q24 ÷ Q36 is Q−12: × 2⁴⁴ for Q32, of which 24 by shortening the spread;
    // away² ≤ 2⁴⁰ leaves room for the other 20.
    let level = match sums[0].unsigned_abs() {
        0 => return i32::MAX,
        w => (1_u64 << 56) / w,
    };
    let square = away.wrapping_mul(away).unsigned_abs();
    let tilt = match (spread >> 24).unsigned_abs() {
        0 if square > 0 => u64::MAX,
        0 => 0,
        spread => (square << 20) / spread,
    };
    let root = isqrt(level.saturating_add(tilt));
    if root > i32::MAX as u64 { i32::MAX } else { root as i32 }
}

/// The square of a span in seconds, Q12, at most 16.
#[must_use]
pub(crate) const fn square_weight(us: u64) -> i64 {
    let us = if us > 4_000_000 { 4_000_000 } else { us };
    // 1.6·10¹³ × 2¹² is below 2⁵⁶.
    (us.wrapping_mul(us).wrapping_mul(4_096) / 1_000_000_000_000) as i64
}

/// A weight of one at most ÷ (1 + (apart ÷ usual)²)²; zero for no usual.
#[must_use]
pub(crate) const fn shrunk_weight(weight: i64, apart: i32, usual: i32) -> i64 {
    // Q12, squares below 2⁵⁰, × 2¹² below 2⁶².
    const MOST: u64 = (1 << 25) - 1;
    let (a, u) = ((apart.unsigned_abs() >> 4) as u64, (usual.unsigned_abs() >> 4) as u64);
    let (a, u) = (if a > MOST { MOST } else { a }, if u > MOST { MOST } else { u });
    let (a, u) = (a.wrapping_mul(a), u.wrapping_mul(u));
    let whole = a.wrapping_add(u);
    if whole == 0 || weight <= 0 || weight > LINE_ONE {
        return 0;
    }
    let once = (weight.unsigned_abs().wrapping_mul(u) / whole) as i64;
    once.wrapping_mul(once) / LINE_ONE
}

/// What a tail over a stretch of blocks of 50 ms makes over a quarter of a second.
#[must_use]
pub(crate) const fn tail_of(tail: i32, us: u32) -> i32 {
    let us = if us < 90_000 { 40_000 } else { us as i64 - 50_000 };
    super::clamp(tail as i64 * 250_000 / us).value
}

/// A weight of up to one as a share in Q16.
#[must_use]
pub(crate) const fn weight_share(weight: i64) -> i32 {
    if weight > LINE_ONE {
        super::ONE
    } else if weight < 0 {
        0
    } else {
        (weight as i32) << 4
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const Q16: f64 = 65_536.0;

    fn sums(points: &[(f64, f64, f64)]) -> LineSums {
        let bits = |x: f64| (x * Q16) as i32;
        let mut all = [0; 5];
        for &(w, x, y) in points {
            let point = line_point((w * LINE_ONE as f64) as i64, bits(x), bits(y));
            all.iter_mut().zip(point).for_each(|(sum, part)| *sum += part);
        }
        all
    }

    fn fit(points: &[(f64, f64, f64)]) -> (f64, f64) {
        let LineFit { slope, offset } = line_fit(&sums(points)).unwrap();
        (f64::from(slope) / Q16, f64::from(offset) / Q16)
    }

    fn near(got: (f64, f64), want: (f64, f64)) {
        let off = (got.0 - want.0).abs().max((got.1 - want.1).abs());
        assert!(off < 2e-3, "{got:?}, not {want:?}");
    }

    #[test]
    fn weighted_points_make_the_line_of_least_squares() {
        // Two points are the line: (12 − 2) ÷ (10 − 5) = 2, 2 − 2 × 5 = −8.
        near(fit(&[(1.0, 5.0, 2.0), (1.0, 10.0, 12.0)]), (2.0, -8.0));
        // x 0, 4, 10 with weights 1, 2, 1 and y 1, 0, 7: Σw 4, Σwx 18, middle 4.5; Σwy 8, mean 2;
        // Σwx² 132 − 4 × 20.25 = 51; Σwxy 70 − 4 × 4.5 × 2 = 34: slope 2/3, offset 2 − 3 = −1.
        near(fit(&[(1.0, 0.0, 1.0), (2.0, 4.0, 0.0), (1.0, 10.0, 7.0)]), (2.0 / 3.0, -1.0));
        // A slope below zero is none: the mean is left, 3.
        near(fit(&[(1.0, 5.0, 4.0), (1.0, 10.0, 2.0)]), (0.0, 3.0));
        // One x tells no slope.
        near(fit(&[(1.0, 5.0, 4.0), (3.0, 5.0, 2.0)]), (0.0, 2.5));
        assert_eq!(line_fit(&sums(&[])), None);
    }

    #[test]
    fn what_is_out_of_range_is_cut() {
        // 200 cmH2O count as 128, 2 000 mL/s as 1 024: 8 per cmH2O from the origin.
        near(fit(&[(1.0, 0.0, 0.0), (1.0, 200.0, 2_000.0)]), (8.0, 0.0));
    }

    #[test]
    fn the_doubt_is_least_in_the_middle() {
        // Weights 1 at 0 and at 10: in the middle √(1/2); at 10 √(1/2 + 25/50) = 1; at 20 √(1/2 + 225/50).
        let two = sums(&[(1.0, 0.0, 0.0), (1.0, 10.0, 3.0)]);
        for (x, want) in [(5, 0.5_f64.sqrt()), (10, 1.0), (20, 5_f64.sqrt())] {
            let got = f64::from(line_doubt(&two, x << 16)) / Q16;
            assert!((got - want).abs() < 1e-3, "at {x}: {got}, not {want}");
        }
        let one = sums(&[(4.0, 5.0, 1.0)]);
        assert_eq!(line_doubt(&one, 5 << 16), 1 << 15); // √(1/4)
        assert_eq!(line_doubt(&one, 6 << 16), i32::MAX);
        assert_eq!(line_doubt(&sums(&[]), 0), i32::MAX);
    }

    #[test]
    fn weights_follow_time_and_tail() {
        // 0.5² = 0.25, 1.5² = 2.25, 4 s and more: 16.
        assert_eq!(square_weight(500_000), LINE_ONE / 4);
        assert_eq!(square_weight(1_500_000), 9_216);
        assert_eq!(square_weight(9_000_000), 16 * LINE_ONE);
        // As far apart as usual: a quarter; three times: a hundredth (409² ÷ 4 096); not at all: whole.
        assert_eq!(shrunk_weight(LINE_ONE, 3 << 16, 3 << 16), LINE_ONE / 4);
        assert_eq!(shrunk_weight(LINE_ONE, -9 * 65_536, 3 << 16), 40);
        assert_eq!(shrunk_weight(LINE_ONE, 0, 1 << 16), LINE_ONE);
        assert_eq!(shrunk_weight(LINE_ONE, 0, 0), 0);
        assert_eq!(weight_share(LINE_ONE / 4), 1 << 14);
        // 2 over 300 ms of blocks of 50 ms makes 2 over a quarter of a second, over 150 ms 5.
        assert_eq!(tail_of(2 << 16, 300_000), 2 << 16);
        assert_eq!(tail_of(2 << 16, 150_000), 5 << 16);
    }

    #[test]
    fn the_largest_sums_do_not_overflow() {
        let far = |x: i32, y: i32| line_point(i64::MAX, x, y);
        for (a, b) in [(i32::MAX, i32::MAX), (i32::MIN, i32::MAX), (i32::MAX, i32::MIN)] {
            let mut all = [0_i64; 5];
            for point in [far(a, b); 4].into_iter().chain([far(b, a); 4]) {
                all.iter_mut().zip(point).for_each(|(sum, part)| *sum += part);
            }
            let LineFit { slope, .. } = line_fit(&all).unwrap();
            assert!(slope == 0 || slope == 8 << 16, "{slope}");
            let _ = line_doubt(&all, i32::MIN);
        }
    }
}
