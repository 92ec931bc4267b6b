//! Fits against worked values.

use super::*;
use crate::quantity::unit::Unit;
use crate::quantity::{Problem, Quantity, Volume};

pub(crate) const V: [f64; 8] = [0.0, 3.0, 6.0, 9.0, 10.0, 7.0, 4.0, 1.0];
pub(crate) const Q: [f64; 8] = [40.0, 50.0, 30.0, 10.0, 0.0, -30.0, -20.0, -10.0];

/// The nearest quantity.
pub(crate) fn near<U: Unit>(x: f64) -> Quantity<U> {
    Quantity::from_bits((x * 65_536.0).round() as i32)
}

fn sums(points: impl IntoIterator<Item = (f64, f64, f64)>) -> FitSums {
    let mut sums = FitSums::default();
    for (v, q, p) in points {
        sums.add_point(near(v), near(q), near(p));
    }
    sums
}

/// Eight samples over 0.15 s.
fn eight(p: [f64; 8]) -> FitSums {
    lasting(0.15, V.into_iter().zip(Q).zip(p).map(|((v, q), p)| (v, q, p)))
}

/// Points seen over so many seconds.
pub(crate) fn lasting(seconds: f64, points: impl IntoIterator<Item = (f64, f64, f64)>) -> FitSums {
    let mut sums = sums(points);
    sums.span = Duration::from_us((seconds * 1e6) as u64);
    sums
}

/// P0, C, R, R², τ in s.
fn known(outcome: FitOutcome) -> [f64; 5] {
    match outcome {
        FitOutcome::Known { baseline, compliance, resistance, goodness, time_constant } => [
            baseline.to_f64(),
            compliance.to_f64(),
            resistance.to_f64(),
            goodness.to_f64(),
            time_constant.to_us() as f64 / 1e6,
        ],
        FitOutcome::Unknown(why) => panic!("{why}"),
    }
}

fn close(got: [f64; 5], want: [f64; 5], tolerance: [f64; 5]) {
    for i in 0..5 {
        assert!((got[i] - want[i]).abs() <= tolerance[i], "{i}: {got:?} against {want:?}");
    }
}

fn short() -> Fit {
    Fit::new(8, Share::from_percent(95)).unwrap()
}

#[test]
fn an_exact_line_is_recovered() {
    // Arithmetic: P = 5 + V/1 + 0.1·Q at eight points. Reached: one step of 1/65 536 in C
    // and R² (asked: 10^-3), 10^-4 in R and P0, 1 µs in R·C = 0.1 s. Equation of motion: Chatburn
    // 2014, Respir Care 59(4):e61.
    let got = known(short().solve(&eight([9.0, 13.0, 14.0, 15.0, 15.0, 9.0, 7.0, 5.0])));
    close(got, [5.0, 1.0, 100.0, 1.0, 0.1], [1e-4, 1.6e-5, 1e-4, 1.6e-5, 1e-6]);
}

#[test]
fn a_noisy_line_gives_the_least_squares_values() {
    // The same with ±0.2 cmH2O in turn; values by double-precision least squares.
    let got = known(short().solve(&eight([9.2, 12.8, 14.2, 14.8, 15.2, 8.8, 7.2, 4.8])));
    close(
        got,
        [4.976, 0.997_18, 101.129, 0.997_056, 0.997_18 * 0.101_129],
        [5e-4, 2e-5, 1e-3, 2e-5, 2e-6],
    );
}

#[test]
fn a_stiffening_lung_gives_the_straight_line_through_it() {
    // P = 5 + 0.5·V + 0.05·V² + 0.1·Q (model of Kano 1994, J Appl Physiol 77(3):1185);
    // the straight fit by double precision: P0 4.268, E 1.00671, R 102.68, R² 0.98351.
    let got = known(short().solve(&eight([9.0, 11.95, 12.8, 14.55, 15.0, 7.95, 5.8, 4.55])));
    close(
        got,
        [4.268, 1.0 / 1.006_71, 102.68, 0.983_51, 0.102_68 / 1.006_71],
        [6e-4, 3e-5, 6e-3, 3e-5, 6e-6],
    );
}

#[test]
fn inertance_left_out_reads_compliance_high() {
    // (Turner 1991: C biased high, R not): C' = 1/(1/C − ω²I). C 4 mL/cmH2O, I 0.30
    // cmH2O·s²/L = 0.0003 cmH2O·s²/mL, 1 Hz: 1/(0.25 − 39.478 × 0.0003) = 4.199, 5.0 % high.
    let w = 2.0 * core::f64::consts::PI;
    let points = (0..500).map(|i| {
        let t = f64::from(i) / 500.0;
        let (v, q) = (10.0 * (1.0 - (w * t).cos()), 10.0 * w * (w * t).sin());
        let turn = 10.0 * w * w * (w * t).cos();
        (v, q, 5.0 + v / 4.0 + 0.05 * q + 0.000_3 * turn)
    });
    let got = known(Fit::default().solve(&lasting(1.0, points)));
    assert!((got[1] - 4.199).abs() < 0.001, "{got:?}");
    assert!((got[1] / 4.0 - 1.05).abs() < 0.002);
    assert!((got[2] - 50.0).abs() < 0.01, "{got:?}");
}

#[test]
fn time_constants_of_bench_models() {
    // R and C of Vignaux 2014 (100/2, 50/5, 30/10) and of a simulated 3-kg infant (40/1.5;
    // Intensive Care Med Exp 2019, DOI 10.1186/s40635-019-0223-8): R·C = 0.200, 0.250, 0.300,
    // 0.060 s.
    for (r, c) in [(100.0, 2.0), (50.0, 5.0), (30.0, 10.0), (40.0, 1.5)] {
        let p: [f64; 8] = core::array::from_fn(|i| 5.0 + V[i] / c + Q[i] * r / 1_000.0);
        // Seen for one and a half times as long.
        let points = V.into_iter().zip(Q).zip(p).map(|((v, q), p)| (v, q, p));
        let got = known(short().solve(&lasting(1.5 * r * c / 1_000.0, points)));
        close(
            got,
            [5.0, c, r, 1.0, r * c / 1_000.0],
            [2e-4, c * 4e-5, r * 4e-5, 2e-5, r * c * 1e-7],
        );
    }
}

#[test]
fn what_tells_nothing_says_why() {
    let why = |outcome| match outcome {
        FitOutcome::Unknown(why) => why,
        FitOutcome::Known { .. } => panic!("{outcome:?}"),
    };
    let line = [9.0, 13.0, 14.0, 15.0, 15.0, 9.0, 7.0, 5.0];
    let good = eight(line);
    assert_eq!(why(Fit::default().solve(&good)), NoFit::TooFewSamples);
    let mut flagged = good;
    flagged.spoil();
    assert_eq!(why(short().solve(&flagged)), NoFit::Flagged);
    let mut beyond = good;
    beyond.add_point(Volume::ZERO, Flow::from_int(4_000), Pressure::ZERO);
    assert_eq!(why(short().solve(&beyond)), NoFit::OutOfRange);
    // pressure that volume and flow do not explain
    let odd = eight([9.0, 5.0, 14.0, 6.0, 15.0, 9.0, 2.0, 8.0]);
    assert_eq!(why(short().solve(&odd)), NoFit::NotPassive);
    // expiration alone: flow is −V/τ throughout
    let expiration = sums((0..100).map(|i| {
        let v = 10.0 * (-f64::from(i) / 20.0).exp();
        (v, -v / 0.2, 5.0)
    }));
    assert_eq!(why(Fit::default().solve(&expiration)), NoFit::Degenerate);
    assert_eq!(why(short().solve(&eight([5.0; 8]))), NoFit::Degenerate);
    // the line upside down: C below zero
    assert_eq!(why(short().solve(&eight(line.map(|p| -p)))), NoFit::OutOfRange);
}

#[test]
fn wrong_settings_are_named() {
    let half = Share::from_percent(50);
    let wrong = |n, g| Fit::new(n, g).map_err(|e| (e.parameter, e.problem));
    assert_eq!(wrong(3, half), Err(("least_samples", Problem::TooSmall)));
    assert_eq!(wrong(60_001, half), Err(("least_samples", Problem::TooLarge)));
    assert_eq!(wrong(4, Share::from_percent(49)), Err(("least_goodness", Problem::TooSmall)));
    assert_eq!(wrong(4, Share::from_percent(101)), Err(("least_goodness", Problem::TooLarge)));
}

#[test]
fn extreme_sizes_do_not_lose_the_line() {
    // The smallest and the largest swings that the bounds allow, C and R fitting.
    for (size, c, r) in [(0.05, 0.02, 1_000.0), (250.0, 100.0, 2.0), (30.0, 1.0, 20.0)] {
        let points = (0..1_000).map(|i| {
            let t = f64::from(i) / 100.0;
            let (v, q) = (size * t.sin(), size * t.cos());
            (v, q, v / c + q * r / 1_000.0)
        });
        let got = known(Fit::default().solve(&lasting(2.0, points)));
        assert!((got[1] / c - 1.0).abs() < 2e-3 && (got[2] / r - 1.0).abs() < 2e-2, "{got:?}");
    }
}

#[test]
fn a_lung_slower_than_what_was_seen_is_not_told() {
    // R·C of 0.1 s: seen for as long it is told, for less it is not.
    let told = |seconds: f64| {
        let p = V.into_iter().zip(Q).map(|(v, q)| (v, q, 5.0 + v + 0.1 * q));
        short().solve(&lasting(seconds, p))
    };
    assert!(matches!(told(0.1001), FitOutcome::Known { .. }), "{:?}", told(0.1001));
    assert_eq!(told(0.0999), FitOutcome::Unknown(NoFit::TooSlow));
}

#[test]
fn resistances_from_none_to_the_most_are_told() {
    let (none, most, bit) = (Resistance::ZERO, MOST_RESISTANCE, Resistance::STEP);
    let (less, more) = (none.saturating_sub(bit).value, most.saturating_add(bit).value);
    let told = [less, none, most, more].map(|resistance| resistance_in_range(resistance).is_ok());
    assert_eq!(told, [false, true, true, false]);
}

#[test]
fn a_compliance_beyond_the_range_is_not_told() {
    // C of half of the most is, one of twice as much is not: eight points of a lung of 250 mL.
    let most = MOST_COMPLIANCE.to_f64();
    let solved = |c: f64| {
        let p = V.into_iter().zip(Q).map(|(v, q)| (25.0 * v, q, 5.0 + 25.0 * v / c + 0.1 * q));
        // R·C of 10 s where C is half of the most.
        short().solve(&lasting(15.0, p))
    };
    assert!(matches!(solved(most / 2.0), FitOutcome::Known { .. }));
    assert_eq!(solved(most * 2.0), FitOutcome::Unknown(NoFit::OutOfRange));
}

#[test]
fn a_goodness_of_just_the_least_is_enough() {
    let fit = short();
    assert_eq!(fit.is_passive(fit.least_goodness()), Ok(()));
    let less = fit.least_goodness().saturating_sub(Share::STEP).value;
    assert_eq!(fit.is_passive(less), Err(NoFit::NotPassive));
}
