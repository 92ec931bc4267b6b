//! Least squares of P = P0 + E1·V + E2·V² + R·Q over points of any shape, beside elimination in `f64`.

use crate::fuzzed::arguments::{STEP, float, number};
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::refused::held;
use crate::fuzzed::words::said;
use std::f64::consts::TAU;
use tidevane::mechanics::{C20OverC, Fit, FitOutcome, NoC20, NoFit, NonlinearElastance};
use tidevane::quantity::{Flow, Pressure, Share, Volume};

/// Volume, flow and pressure, in mL, mL/s and cmH2O.
type Point = [f64; 3];

pub(super) fn check(bytes: &mut Bytes<'_>) -> Option<()> {
    let (least, percent) = (u32::from(bytes.u8()?) / 4, i16::from(bytes.u8()? % 104));
    let made = Fit::new(least, Share::from_percent(percent));
    let wrong = [("least_samples", least < 4), ("least_goodness", !(50..=100).contains(&percent))];
    held(&made, &wrong);
    let fit = made.unwrap_or_default();
    let (least, goodness) = if wrong.iter().any(|(_, is)| *is) {
        (20, 0.99)
    } else {
        (least, f64::from(percent) / 100.0)
    };
    assert_eq!((fit.least_samples(), fit.has_bend()), (least, false));
    let fit = if bytes.u8()? % 4 == 0 { fit } else { fit.with_bend() };
    let mut sums = fit.begin();
    let (n, wrong) = (u32::from(bytes.u8()? % 80), bytes.u8()?);
    let (tidal, peak, lead) =
        (f64::from(bytes.u16()?) / 256.0, f64::from(bytes.u16()?) / 64.0, f64::from(bytes.u8()?));
    let (e1, e2, r) =
        (number(bytes)?, f64::from(bytes.i16()?) / 65_536.0, f64::from(bytes.i16()?) / 65_536.0);
    let noise = f64::from(bytes.u8()?) / 256.0;
    let mut points = Vec::new();
    for i in 0..n {
        let turn = f64::from(i) / f64::from(n.max(1));
        let v = tidal * (1.0 - (TAU * turn).cos()) / 2.0;
        let q = peak * (TAU * (turn + lead / 256.0)).sin();
        let odd = noise * (f64::from(i * 37 % 17) - 8.0);
        let p = 5.0 + v * (float(e1) + e2 * v) + r * q + odd;
        let [v, q, p] = [v, q, p].map(|x| (x.clamp(-32_767.0, 32_767.0) * 65_536.0) as i32);
        sums.add_point(Volume::from_bits(v), Flow::from_bits(q), Pressure::from_bits(p));
        // They enter with 12 and 15 fraction bits, half up.
        let coarse = |bits: i32, by: u32| {
            let bits = (i64::from(bits) + (1 << by >> 1)) >> by;
            bits as f64 / f64::from(1_u32 << (16 - by))
        };
        points.push([coarse(v, 4), coarse(q, 4), coarse(p, 1)]);
    }
    let beyond = |point: &Point| {
        let bounds = [3_000.0, 3_000.0, 200.0];
        point.iter().zip(bounds).any(|(x, most)| x.abs() > most + 1e-3)
    };
    let is_beyond = points.iter().any(beyond);
    if wrong == 255 {
        sums.spoil();
        assert!(sums.is_spoiled());
        assert_eq!(fit.solve(&sums), FitOutcome::Unknown(NoFit::Flagged));
        return Some(());
    }
    if !is_beyond && points.iter().any(|point| beyond(&point.map(|x| x * 1.001))) {
        // Rounding decides.
        return Some(());
    }
    if is_beyond {
        assert_eq!(fit.solve(&sums), FitOutcome::Unknown(NoFit::OutOfRange));
        return Some(());
    }
    assert_eq!(sums.samples(), n);
    let limits = Limits { is_enough: n >= least, goodness };
    straight(fit.solve(&sums), &points, &limits);
    bent(fit.solve_bend(&sums), &points, &limits, fit.has_bend());
    Some(())
}

struct Limits {
    is_enough: bool,
    goodness: f64,
}

/// A fit in `f64`: what each regressor adds to the pressure, with the means that belong to it.
struct Solved<const N: usize> {
    slopes: [f64; N],
    baseline: f64,
    /// What the slopes carry from the means down to it.
    carried: f64,
    goodness: f64,
    /// The least part of a regressor's variance that the others leave: how far apart they are.
    apart: f64,
}

/// By elimination with the largest pivot; none where a regressor stands still or nothing of it is left.
fn solved<const N: usize>(points: &[Point], of: impl Fn(&Point) -> [f64; N]) -> Option<Solved<N>> {
    let n = points.len() as f64;
    let rows: Vec<[f64; N]> = points.iter().map(of).collect();
    let means: [f64; N] = std::array::from_fn(|i| rows.iter().map(|row| row[i]).sum::<f64>() / n);
    let mean = points.iter().map(|point| point[2]).sum::<f64>() / n;
    let with = |i: usize, j: usize| {
        rows.iter().map(|row| (row[i] - means[i]) * (row[j] - means[j])).sum::<f64>()
    };
    let with_p: [f64; N] = std::array::from_fn(|i| {
        rows.iter().zip(points).map(|(row, point)| (row[i] - means[i]) * (point[2] - mean)).sum()
    });
    let own: [f64; N] = std::array::from_fn(|i| with(i, i).sqrt());
    if own.contains(&0.0) {
        return None;
    }
    // Of unit variance each.
    let mut left: [[f64; N]; N] =
        std::array::from_fn(|i| std::array::from_fn(|j| with(i, j) / own[i] / own[j]));
    let mut right: [f64; N] = std::array::from_fn(|i| with_p[i] / own[i]);
    let mut apart = 1.0;
    for i in 0..N {
        apart *= left[i][i];
        if left[i][i] < 1e-9 {
            return None;
        }
        for j in 0..N {
            if j == i {
                continue;
            }
            let times = left[j][i] / left[i][i];
            (right[j], left[j]) = (
                right[j] - times * right[i],
                std::array::from_fn(|k| left[j][k] - times * left[i][k]),
            );
        }
    }
    let slopes: [f64; N] = std::array::from_fn(|i| right[i] / left[i][i] / own[i]);
    let all = points.iter().map(|point| (point[2] - mean).powi(2)).sum::<f64>();
    let explained = slopes.iter().zip(with_p).map(|(slope, with)| slope * with).sum::<f64>();
    let baseline = mean - slopes.iter().zip(means).map(|(slope, mean)| slope * mean).sum::<f64>();
    let carried = slopes.iter().zip(means).map(|(slope, mean)| (slope * mean).abs()).sum();
    let goodness = explained / all;
    (all > 0.0).then_some(Solved { slopes, baseline, carried, goodness, apart })
}

/// It enters with 8 fraction bits, half up.
fn square(volume: f64) -> f64 {
    (volume * volume * 256.0 + 0.5).floor() / 256.0
}

fn close(got: f64, want: f64, slack: f64, what: &str) {
    assert!((got - want).abs() <= slack, "{what} {got}, not {want} ± {slack}");
}

fn straight(got: FitOutcome, points: &[Point], limits: &Limits) {
    let want = solved(points, |[v, q, _]| [*v, *q]);
    let near = |x: f64, limit: f64, slack: f64| (x - limit).abs() <= slack;
    match got {
        FitOutcome::Known { baseline, compliance, resistance, goodness, time_constant } => {
            let want = want.expect("what stands still tells nothing");
            let [elastance, r] = want.slopes;
            assert!(limits.is_enough);
            let c = 1.0 / elastance;
            let (got_c, got_r) = (float(compliance.to_bits()), float(resistance.to_bits()));
            // 2·10⁻⁴ of C and R.
            close(got_c, c, 2e-4 * c.abs() + STEP, "compliance");
            close(got_r, 1e3 * r, 2e-4 * 1e3 * r.abs() + STEP, "resistance");
            let tau = 1e6 * r / elastance;
            close(time_constant.to_us() as f64, tau.abs(), 2e-4 * tau.abs() + 1.0, "time constant");
            let got_g = float(goodness.to_bits());
            close(got_g, want.goodness, 1e-5, "goodness");
            assert!(got_g >= limits.goodness - STEP);
            // 2·10⁻⁴ of the slopes carry as far as the means lie.
            let slack = 1e-3 + 2e-4 * want.carried;
            close(float(baseline.to_bits()), want.baseline, slack, "baseline");
            assert!(got_c > 0.0 && got_c <= 200.0 && (0.0..=2_000.0).contains(&got_r));
        }
        FitOutcome::Unknown(why) => {
            said(&why);
            match (why, want) {
                (NoFit::TooFewSamples, _) => assert!(!limits.is_enough),
                // Of two, 2⁻⁷ at least is left of what is apart.
                (NoFit::Degenerate, want) => {
                    assert!(want.is_none_or(|want| want.apart < 1.0 / 127.0), "they move apart");
                }
                (NoFit::NotPassive, Some(want)) => {
                    assert!(want.goodness < limits.goodness + 1e-5, "{}", want.goodness);
                }
                (NoFit::OutOfRange, Some(want)) => {
                    let [e, r] = want.slopes;
                    let is_lung = e > 0.005 + 1e-5 && e < 127.9 && (1e-6..2.0 - 1e-5).contains(&r);
                    assert!(!is_lung || !near(want.baseline, 0.0, 32_000.0), "{e} {r}");
                }
                (why, _) => panic!("{why:?}"),
            }
        }
    }
}

fn bent(got: NonlinearElastance, points: &[Point], limits: &Limits, asked: bool) {
    let want = solved(points, |[v, q, _]| [*v, square(*v), *q]);
    match got {
        NonlinearElastance::Known {
            baseline,
            elastance,
            curvature,
            resistance,
            goodness,
            share,
            c20,
        } => {
            assert!(asked && limits.is_enough);
            let want = want.expect("what stands still tells nothing");
            let [e1, e2, r] = want.slopes;
            let most = points.iter().fold(0.0_f64, |most, [v, ..]| most.max(*v));
            let flow = points.iter().fold(0.0_f64, |most, [_, q, _]| most.max(q.abs()));
            // Each by what it adds at the largest volume and flow, to a part of the pressure's own span.
            let (low, high) = points
                .iter()
                .fold((f64::MAX, f64::MIN), |(low, high), [.., p]| (low.min(*p), high.max(*p)));
            let part = 1e-3 * (high - low);
            let got = [
                float(elastance.to_bits()),
                float(curvature.to_bits()) / 1e3,
                float(resistance.to_bits()) / 1e3,
            ];
            close(got[0] * most, e1 * most, part + STEP * most, "elastance");
            close(
                got[1] * most * most,
                e2 * most * most,
                part + STEP * most * most / 1e3,
                "curvature",
            );
            close(got[2] * flow, r * flow, part + STEP * flow, "resistance");
            close(float(goodness.to_bits()), want.goodness, 1e-3, "goodness");
            close(float(baseline.to_bits()), want.baseline, part + 1e-3, "baseline");
            assert!((0.0..=2.0).contains(&got[2]));
            // Of the elastance at the largest volume, what the curve adds; by the told numbers themselves.
            let added = got[1] * most;
            let (part, whole) = (added, got[0] + added);
            let told = float(share.to_bits());
            let slack = STEP + STEP * (1.0 + told.abs()) * (1.0 + most / 1e3) / whole.abs();
            close(told, part / whole, slack, "share of the curve");
            assert!(!matches!(c20, C20OverC::Unknown(NoC20::NoVolume)), "{c20:?}");
        }
        NonlinearElastance::Unknown(why) => match (why, want) {
            (NoFit::NotAsked, _) => assert!(!asked),
            (NoFit::TooFewSamples, _) => assert!(!limits.is_enough),
            // Of three, 2⁻¹¹ at least is left.
            (NoFit::Degenerate, want) => {
                assert!(want.is_none_or(|want| want.apart < 1.0 / 2_000.0), "they move apart");
            }
            (NoFit::NotPassive, Some(want)) => {
                assert!(want.goodness < limits.goodness + 1e-3, "{}", want.goodness);
            }
            // The bounds of the curve, or a number beyond its own range.
            (NoFit::OutOfRange, want) => {
                let most = points.iter().fold(0.0_f64, |most, [v, ..]| most.max(v.abs()));
                let is_lung = want.as_ref().is_some_and(|want| {
                    let [e1, e2, r] = want.slopes;
                    let top = e1 + e2 * most;
                    top > 1e-2
                        && e2 * most / top > -30_000.0
                        && e1.abs() < 127.9
                        && e2.abs() < 30.0
                        && (1e-3..1.99).contains(&r)
                        && want.baseline.abs() < 32_000.0
                });
                let slopes = want.map(|want| want.slopes);
                assert!(most >= 180.9 || !is_lung, "{most} {slopes:?}");
            }
            (why, _) => panic!("{why:?}"),
        },
    }
}
