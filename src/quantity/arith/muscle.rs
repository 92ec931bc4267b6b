//! The equation of motion over short blocks: what it leaves over, and how its terms are learned.
//!
//! P = R·q + J·d + E·v + P0 with q the flow, d its change since the block before, v the volume. Flows,
//! volumes and pressures have 12 fraction bits, terms 24.
//!
//! | operation | operands | result | rounding | overflow |
//! |---|---|---|---|---|
//! | [`block_mean`] | sum of Q16, count | Q12 | toward zero | clamps; zero for none |
//! | [`q12_to_area`] | Q12 (unit × s) | 2·Q16·µs | exact | cannot |
//! | [`motion_point`] | Q12 | sums | exact | cut to ±4 096; no more than 512 points |
//! | [`motion_moments`] | sums | Q24 | toward zero | cannot; `None` below four points |
//! | [`motion_faded`] | Q24, Q24 | Q24 | down | cannot: 16 × 2⁵⁷ |
//! | [`motion_prior`] | Q16, Q16 | Q24 terms, Q24 weights | toward zero | clamps |
//! | [`motion_terms`] | Q24 | Q24 | toward zero, the operands to 29 bits | clamps |
//! | [`motion_lag`] | Q24, µs | µs | half away from zero | clamps; `None` where the flow tells nothing |
//! | [`motion_left`] | Q24, Q12 | Q16 | down | clamps |

use super::{
    SECOND_US, clamp, difference_of_products, product, quotient, scaled_down, shared_scale,
    sum_of_products,
};

/// How many points; Σq, Σd, Σv, Σp in Q12; Σqq, Σqd, Σqv, Σdd, Σdv, Σvv, Σqp, Σdp, Σvp in Q24.
pub(crate) type MotionSums = [i64; 14];
/// The last nine about their means.
pub(crate) type MotionMoments = [i64; 9];
/// R, J and E.
pub(crate) type MotionTerms = [i32; 3];

/// 512 points of 2²⁴ squared are 2⁵⁷.
const MOST_POINTS: i64 = 512;
const MOST: i32 = 1 << 24;

/// A sum of Q16 values as their mean in Q12.
#[must_use]
pub(crate) const fn block_mean(sum: i64, count: u32) -> i32 {
    // By a 32-bit divide, which the smaller cores have or make up quickly.
    let sum = clamp(sum >> 4).value;
    if count == 0 || count > i32::MAX as u32 { 0 } else { sum / count as i32 }
}

/// unit × second in Q12 as a doubled area; exact.
#[must_use]
pub(crate) const fn q12_to_area(bits: i32) -> i64 {
    // 2³¹ × 2⁴ × 2×10⁶ < 2⁵⁶
    (bits as i64 * 16) * (2 * SECOND_US) as i64
}

const fn cut(x: i32) -> i32 {
    if x > MOST {
        MOST
    } else if x < -MOST {
        -MOST
    } else {
        x
    }
}

/// Adds a point to the sums: its flow, change of flow, volume and pressure.
pub(crate) const fn motion_point(sums: &mut MotionSums, point: [i32; 4]) {
    let [n, q1, d1, v1, p1, qq, qd, qv, dd, dv, vv, qp, dp, vp] = sums;
    if *n >= MOST_POINTS {
        return;
    }
    let [q, d, v, p] = [cut(point[0]), cut(point[1]), cut(point[2]), cut(point[3])];
    *n = n.wrapping_add(1);
    *q1 = q1.wrapping_add(q as i64);
    *d1 = d1.wrapping_add(d as i64);
    *v1 = v1.wrapping_add(v as i64);
    *p1 = p1.wrapping_add(p as i64);
    *qq = qq.wrapping_add(product(q, q));
    *qd = qd.wrapping_add(product(q, d));
    *qv = qv.wrapping_add(product(q, v));
    *dd = dd.wrapping_add(product(d, d));
    *dv = dv.wrapping_add(product(d, v));
    *vv = vv.wrapping_add(product(v, v));
    *qp = qp.wrapping_add(product(q, p));
    *dp = dp.wrapping_add(product(d, p));
    *vp = vp.wrapping_add(product(v, p));
}

/// The products about their means: what the points say of the terms, whatever P0.
#[must_use]
#[inline(never)]
pub(crate) const fn motion_moments(sums: &MotionSums) -> Option<MotionMoments> {
    let [n, q1, d1, v1, p1, qq, qd, qv, dd, dv, vv, qp, dp, vp] = *sums;
    if n < 4 {
        return None;
    }
    let (q, d, v) = (q1 / n, d1 / n, v1 / n);
    // |mean| ≤ 2²⁴, |Σ| ≤ 2³³
    Some([
        qq.wrapping_sub(q.wrapping_mul(q1)),
        qd.wrapping_sub(q.wrapping_mul(d1)),
        qv.wrapping_sub(q.wrapping_mul(v1)),
        dd.wrapping_sub(d.wrapping_mul(d1)),
        dv.wrapping_sub(d.wrapping_mul(v1)),
        vv.wrapping_sub(v.wrapping_mul(v1)),
        qp.wrapping_sub(q.wrapping_mul(p1)),
        dp.wrapping_sub(d.wrapping_mul(p1)),
        vp.wrapping_sub(v.wrapping_mul(p1)),
    ])
}

/// Adds a set of moments to another.
pub(crate) fn motion_join(moments: &mut MotionMoments, more: &MotionMoments) {
    moments.iter_mut().zip(more).for_each(|(sum, more)| *sum = sum.saturating_add(*more));
}

/// A memory of sixteen breaths, less a sixteenth, and one breath more.
#[must_use]
pub(crate) fn motion_faded(memory: &MotionMoments, breath: &MotionMoments) -> MotionMoments {
    core::array::from_fn(|i| match (memory.get(i), breath.get(i)) {
        (Some(old), Some(new)) => old.wrapping_sub(old >> 4).saturating_add(*new),
        _ => 0,
    })
}

/// Terms to begin with, from a usual volume and a usual rise of pressure: E is their ratio, R·C 60 ms and
/// J·C 24 ms to a block; and how much each is held to, for a misfit of 15 cmH2O² and a doubt of R, 2 J and
/// 0.7 E. Chosen on simulated infants, no source.
#[must_use]
#[inline(never)]
pub(crate) const fn motion_prior(volume: i32, rise: i32) -> (MotionTerms, [i64; 3]) {
    let (volume, rise) =
        (if volume > 1 { volume } else { 1 } as i64, if rise > 1 { rise } else { 1 } as i64);
    let elastance = clamp((rise << 24) / volume).value;
    // 0.06 and 0.4 of that, in 2⁻¹⁶.
    let resistance = clamp((elastance as i64 * 3_932) >> 16).value;
    let lag = clamp((resistance as i64 * 26_214) >> 16).value;
    let compliance = clamp((volume << 12) / rise).value;
    let compliance = cut(compliance);
    let square = product(compliance, compliance);
    let weights = [square.wrapping_mul(4_167), square.wrapping_mul(6_510), square.wrapping_mul(31)];
    ([resistance, lag, elastance], weights)
}

/// Better terms: each in turn by what the others leave to it, held to the prior by its weight.
#[must_use]
#[inline(never)]
pub(crate) const fn motion_terms(
    moments: &MotionMoments,
    terms: MotionTerms,
    prior: (MotionTerms, [i64; 3]),
) -> MotionTerms {
    let [qq, qd, qv, dd, dv, vv, qp, dp, vp] = *moments;
    let (first, weights) = prior;
    let all = qq.unsigned_abs()
        | dd.unsigned_abs()
        | vv.unsigned_abs()
        | qp.unsigned_abs()
        | dp.unsigned_abs()
        | vp.unsigned_abs()
        | weights[0].unsigned_abs()
        | weights[1].unsigned_abs();
    let down = 35_u32.saturating_sub(all.leading_zeros()); // 64 − 29 bits in use
    let [_, j, e] = terms;
    let r = term(
        [qq >> down, weights[0] >> down, qp >> down],
        first[0],
        [(qd >> down, j), (qv >> down, e)],
    );
    let j = term(
        [dd >> down, weights[1] >> down, dp >> down],
        first[1],
        [(qd >> down, r), (dv >> down, e)],
    );
    let e = term(
        [vv >> down, weights[2] >> down, vp >> down],
        first[2],
        [(qv >> down, r), (dv >> down, j)],
    );
    [r, j, e]
}

/// Operands of 29 bits and terms of 31: each product below 2⁶⁰, the sum below 2⁶³.
const fn term(own: [i64; 3], first: i32, others: [(i64, i32); 2]) -> i32 {
    let [square, weight, along] = own;
    let below = square.wrapping_add(weight);
    if below <= 0 {
        return first;
    }
    let held = (along << 24).wrapping_add(weight.wrapping_mul(first as i64));
    let taken = others[0].0.wrapping_mul(others[0].1 as i64);
    let also = others[1].0.wrapping_mul(others[1].1 as i64);
    clamp(held.wrapping_sub(taken).wrapping_sub(also) / below).value
}

/// How far the flow lags behind the pressure, for blocks so long: J over R by least squares, held to nothing.
/// `None` where R is not above zero, or where flow and its change share all but 2⁻⁷ of their variance.
#[must_use]
#[inline(never)]
pub(crate) fn motion_lag(moments: &MotionMoments, block_us: u32) -> Option<i32> {
    let [qq, qd, qv, dd, dv, vv, qp, dp, vp] = *moments;
    // What the volume leaves to the others: 2⁶¹ × 2⁶¹ each.
    let without = |ab, av, bv| difference_of_products(ab, vv, av, bv);
    let (q, d, x) = (without(qq, qv, qv), without(dd, dv, dv), without(qd, qv, dv));
    let (a, b) = (without(qp, qv, vp), without(dp, dv, vp));
    let by = shared_scale(q, d, x).max(shared_scale(a, b, 0));
    let down = |x| scaled_down(x, by);
    let (q, d, x, a, b) = (down(q), down(d), down(x), down(a), down(b));
    let whole = sum_of_products(q, d, 0, 0);
    if difference_of_products(q, d, x, x) <= whole >> 7 {
        return None;
    }
    let resistive = difference_of_products(a, d, b, x);
    if resistive <= 0 {
        return None;
    }
    quotient(difference_of_products(b, q, a, x), resistive, block_us, 0).map(|lag| lag.value)
}

/// What a block leaves over: R·q + J·d + E·v − P, in Q16.
#[must_use]
#[inline(always)]
pub(crate) const fn motion_left(terms: MotionTerms, point: [i32; 4]) -> i32 {
    let [r, j, e] = terms;
    let [q, d, v] = [cut(point[0]), cut(point[1]), cut(point[2])];
    // |term| < 2³¹ and |x| ≤ 2²⁴: three of 2⁵⁵.
    let sum = product(r, q).wrapping_add(product(j, d)).wrapping_add(product(e, v));
    clamp((sum >> 20).wrapping_sub((point[3] as i64) << 4)).value
}

#[cfg(test)]
mod tests {
    use super::*;

    /// In Q12.
    fn q12(x: f64) -> i32 {
        (x * 4_096.0).round() as i32
    }

    #[test]
    fn three_points_and_their_mean() {
        // 1, 2 and 6 mL/s: 3 × 65 536 each, mean 3.
        assert_eq!(block_mean(9 * 65_536, 3), q12(3.0));
        assert_eq!(block_mean(-9 * 65_536, 3), q12(-3.0));
        assert_eq!((block_mean(5, 0), block_mean(i64::MAX, 1)), (0, i32::MAX));
    }

    #[test]
    fn moments_are_about_the_means() {
        // Flows 0, 10, 20 and 10, pressures 5, 7, 9 and 7: mean 10 and 7; Σqq 200, Σqp 40.
        let points = [(0.0, 5.0), (10.0, 7.0), (20.0, 9.0), (10.0, 7.0)];
        let mut sums = [0; 14];
        points.iter().for_each(|(q, p)| motion_point(&mut sums, [q12(*q), 0, 0, q12(*p)]));
        let moments = motion_moments(&sums).unwrap();
        let in_q24 = |x: i64| x as f64 / 16_777_216.0;
        assert_eq!((in_q24(moments[0]), in_q24(moments[6])), (200.0, 40.0));
        let mut one = [0; 14];
        motion_point(&mut one, [0; 4]);
        assert_eq!(motion_moments(&one), None);
        // The memory loses a sixteenth.
        assert_eq!(motion_faded(&moments, &[0; 9])[0], moments[0] - moments[0] / 16);
    }

    #[test]
    fn the_prior_follows_volume_and_rise() {
        // 5 mL at 10 cmH2O: E 2, R 0.12, J 0.048; C 0.5 and C² 0.25 in Q24.
        let (terms, weights) = motion_prior(5 << 16, 10 << 16);
        let [r, j, e] = terms.map(|x| f64::from(x) / 16_777_216.0);
        assert!((e - 2.0).abs() < 1e-6 && (r - 0.12).abs() < 1e-4 && (j - 0.048).abs() < 1e-4);
        assert_eq!(weights[2], 31 * (1 << 22));
        assert_eq!(motion_prior(0, 0).0[2], 1 << 24);
    }

    #[test]
    fn terms_come_back_from_breaths_that_obey_them() {
        // R 0.1, J 0.02, E 2 over a rise of flow and volume; the prior says 0.12, 0.048 and 2, and holds on
        // by a few percent of the difference.
        let (r, j, e) = (0.1, 0.02, 2.0);
        let (mut sums, mut before, mut volume) = ([0; 14], 0.0, 0.0);
        for i in 0..40 {
            let q = 60.0 * (-(f64::from(i) / 4.0)).exp() * f64::from(i.min(3)) / 3.0;
            volume += q * 0.02;
            let d = q - before;
            let p = 5.0 + r * q + j * d + e * volume;
            motion_point(&mut sums, [q12(q), q12(d), q12(volume), q12(p)]);
            before = q;
        }
        let moments = motion_moments(&sums).unwrap();
        let prior = motion_prior(5 << 16, 10 << 16);
        let mut terms = prior.0;
        let mut memory = [0; 9];
        for _ in 0..30 {
            memory = motion_faded(&memory, &moments);
            terms = motion_terms(&memory, terms, prior);
        }
        let [got_r, got_j, got_e] = terms.map(|x| f64::from(x) / 16_777_216.0);
        assert!((got_r - r).abs() < 0.003, "R {got_r} of {r}");
        assert!((got_j - j).abs() < 0.01, "J {got_j} of {j}");
        assert!((got_e - e).abs() < 0.03, "E {got_e} of {e}");
    }

    #[test]
    fn the_lag_is_inertance_over_resistance() {
        // R 0.1, J 0.05 and E 2 over blocks of 20 ms: half a block.
        let (mut sums, mut before, mut volume) = ([0; 14], 0.0, 0.0);
        for i in 0..40 {
            let q = 60.0 * (-(f64::from(i) / 4.0)).exp() * f64::from(i.min(3)) / 3.0;
            volume += q * 0.02;
            let d = q - before;
            let p = 5.0 + 0.1 * q + 0.05 * d + 2.0 * volume;
            motion_point(&mut sums, [q12(q), q12(d), q12(volume), q12(p)]);
            before = q;
        }
        let moments = motion_moments(&sums).unwrap();
        let lag = motion_lag(&moments, 20_000).unwrap();
        assert!((lag - 10_000).abs() < 50, "{lag} µs of 10 000");
        // Pressure that goes with the flow's change alone has no resistance to lag behind; without flow
        // nothing is told.
        let [qq, qd, qv, dd, dv, vv, ..] = moments;
        assert_eq!(motion_lag(&[qq, qd, qv, dd, dv, vv, -qq, -qd, -qv], 20_000), None);
        assert_eq!(motion_lag(&[0; 9], 20_000), None);
    }

    #[test]
    fn what_is_left_over_is_the_muscle() {
        // R 0.1 × 20 + J 0 + E 2 × 3 − 5 = 3 cmH2O.
        let terms = [1_677_722, 0, 2 << 24];
        let left = motion_left(terms, [q12(20.0), 0, q12(3.0), q12(5.0)]);
        assert!((f64::from(left) / 65_536.0 - 3.0).abs() < 1e-3, "{left}");
        assert_eq!(motion_left([i32::MAX; 3], [i32::MAX; 4]), i32::MAX);
    }
}
