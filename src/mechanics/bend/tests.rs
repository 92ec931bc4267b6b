//! The bent curve against worked values.

use super::*;
use crate::mechanics::fit::tests::{Q, V, near};
use crate::quantity::{Duration, Pressure, Volume};

fn fit() -> Fit {
    Fit::new(8, Share::from_percent(95)).unwrap().with_bend()
}

fn solved(sums: &FitSums) -> NonlinearElastance {
    fit().solve_bend(sums)
}

fn sums(points: impl IntoIterator<Item = (f64, f64, f64)>) -> FitSums {
    let mut sums = fit().begin();
    for (v, q, p) in points {
        sums.add_point(near(v), near(q), near(p));
    }
    sums
}

/// P0, E1, E2 in cmH2O/mL², R in cmH2O/(mL/s), R², %E2.
fn known(bend: NonlinearElastance) -> [f64; 6] {
    match bend {
        NonlinearElastance::Known {
            baseline,
            elastance,
            curvature,
            resistance,
            goodness,
            share,
            ..
        } => [
            baseline.to_f64(),
            elastance.to_f64(),
            curvature.to_f64() / 1e3,
            resistance.to_f64() / 1e3,
            goodness.to_f64(),
            share.to_f64(),
        ],
        NonlinearElastance::Unknown(why) => panic!("{why}"),
    }
}

#[test]
fn a_stiffening_lung_is_recovered() {
    // P = 5 + 0.5·V + 0.05·V² + 0.1·Q (model of Kano 1994, J Appl Physiol 77(3):1185). At the
    // largest volume, 10 mL, %E2 = 0.05 × 10 ÷ (0.5 + 0.05 × 10) = 50 %.
    let p = [9.0, 11.95, 12.8, 14.55, 15.0, 7.95, 5.8, 4.55];
    let points = V.into_iter().zip(Q).zip(p).map(|((v, q), p)| (v, q, p));
    let got = known(solved(&sums(points)));
    let want = [5.0, 0.5, 0.05, 0.1, 1.0, 0.5];
    for i in 0..6 {
        assert!((got[i] - want[i]).abs() < 5e-5, "{i}: {got:?} against {want:?}");
    }
}

#[test]
fn the_share_that_came_with_volume() {
    // E1 0.5, E2 0.05 cmH2O/mL² = 50 cmH2O/(mL·L), VT 10: 0.5 ÷ (0.5 + 0.5) = 50.0 % (Kano 1994).
    let e1 = Elastance::milli::<500>();
    let share = |e2, v| bend_share(e1, Curvature::from_int(e2), Volume::from_int(v));
    assert_eq!(share(50, 10), Some(Share::from_percent(50)));
    assert_eq!(share(0, 10), Some(Share::ZERO));
    // A lung that opens up: −0.25 ÷ 0.25 = −100 %; −0.5 ÷ 0 has no answer.
    assert_eq!(share(-25, 10), Some(Share::from_percent(-100)));
    assert_eq!(share(-50, 10), None);
}

#[test]
fn a_straight_lung_does_not_bend() {
    let points = V.into_iter().zip(Q).map(|(v, q)| (v, q, 5.0 + v + 0.1 * q));
    let got = known(solved(&sums(points)));
    assert!(got[2].abs() < 1e-5 && got[5].abs() < 1e-4, "{got:?}");
    assert!((got[1] - 1.0).abs() < 1e-4, "{got:?}");
}

#[test]
fn what_cannot_be_told_is_said() {
    assert_eq!(solved(&FitSums::default()), NonlinearElastance::Unknown(NoFit::NotAsked));
    assert_eq!(solved(&fit().begin()), NonlinearElastance::Unknown(NoFit::TooFewSamples));
    // Two volumes only: V² is a straight line of V.
    let two = (0..20).map(|i| (f64::from(i % 2), f64::from(i % 5), 5.0));
    assert_eq!(solved(&sums(two)), NonlinearElastance::Unknown(NoFit::Degenerate));
    // 182 mL is beyond the sums of the curve, though not of the line.
    let large = V.into_iter().zip(Q).map(|(v, q)| (18.2 * v, q, 5.0 + v + 0.1 * q));
    let mut large = sums(large);
    // R·C of 1.8 s.
    large.span = Duration::from_millis(3_000);
    assert_eq!(solved(&large), NonlinearElastance::Unknown(NoFit::OutOfRange));
    assert!(matches!(fit().solve(&large), FitOutcome::Known { .. }));
    let mut flagged = fit().begin();
    flagged.spoil();
    assert_eq!(solved(&flagged), NonlinearElastance::Unknown(NoFit::Flagged));
}

#[test]
fn what_spoils_the_line_by_its_time_constant_spoils_the_curve() {
    for why in [NoFit::TooCoarse, NoFit::TooSlow] {
        assert_eq!(may_bend(&FitOutcome::Unknown(why)), Err(why));
    }
    // A lung that bends may leave too much over for a line.
    assert_eq!(may_bend(&FitOutcome::Unknown(NoFit::NotPassive)), Ok(()));
}

#[test]
fn the_most_samples_of_the_largest_fit() {
    let mut sums = fit().begin();
    for i in 0..60_000 {
        let v = if i % 3 == 0 { 181 } else { -181 };
        let q = Flow::from_int(if i % 2 == 0 { 3_000 } else { -3_000 });
        sums.add_point(Volume::from_int(v), q, Pressure::from_int(200));
    }
    // Pressure stands still.
    assert_eq!(solved(&sums), NonlinearElastance::Unknown(NoFit::Degenerate));
}

#[test]
fn a_narrow_range_of_volumes_far_from_none_shows_no_bend() {
    // Between 100 and 102 mL V squared is a straight line of V but for a part in 40 000.
    let points = (0..60).map(|i| {
        let (v, q) = (100.0 + f64::from(i % 11) / 5.0, f64::from(i % 7) * 5.0 - 15.0);
        (v, q, 5.0 + v * 0.1 + q * 0.1)
    });
    let told = solved(&sums(points));
    assert_eq!(told, NonlinearElastance::Unknown(NoFit::Degenerate));
}
