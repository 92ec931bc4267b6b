//! Whether a loop bends at the top: C20/C of volumes and of a fitted curve, and the share of bend.

use crate::fuzzed::arguments::{float, number};
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::whole::rounded;
use crate::fuzzed::words::said;
use tidevane::mechanics::{C20OverC, NoC20, bend_share, c20_level, c20_of_curve, c20_over_c};
use tidevane::quantity::{Curvature, Elastance, Pressure, Share, Volume};

pub(super) fn check(bytes: &mut Bytes<'_>) -> Option<()> {
    let (a, b, c) = (number(bytes)?, number(bytes)?, number(bytes)?);
    let level = c20_level(Pressure::from_bits(a), Pressure::from_bits(b));
    // A fifth of the baseline and four of the peak, each to a step.
    let want = (float(a) + 4.0 * float(b)) / 5.0;
    assert!((float(level.to_bits()) - want).abs() <= 1.0 / 65_536.0, "{level}, not {want}");
    match c20_over_c(Volume::from_bits(a), Volume::from_bits(b)) {
        C20OverC::Known { ratio, bends } => {
            assert!(a > 0 && (0..=a).contains(&b));
            let (tidal, rest) = (i128::from(a), i128::from(a) - i128::from(b));
            assert_eq!(i128::from(ratio.to_bits()), rounded(rest * 5 * 65_536, tidal));
            assert_eq!(bends, ratio < Share::from_percent(80));
        }
        C20OverC::Unknown(why) => {
            assert!(if why == NoC20::NoVolume { a <= 0 } else { a > 0 && !(0..=a).contains(&b) });
            said(&why);
        }
    }
    bend(a, b, c);
    curve(b);
    Some(())
}

/// E2·V ÷ (E1 + E2·V), E2 for each litre.
fn bend(a: i32, b: i32, c: i32) {
    let share = bend_share(Elastance::from_bits(a), Curvature::from_bits(b), Volume::from_bits(c));
    let grown = i128::from(b) * i128::from(c);
    let whole = i128::from(a) * 65_536_000 + grown;
    let want = (whole > 0).then(|| rounded(grown * 65_536, whole));
    let want = want.filter(|bits| i32::try_from(*bits).is_ok());
    assert_eq!(share.map(|share| i128::from(share.to_bits())), want, "{a} {b} {c}");
}

/// Pressure (1 − s)·x + s·x² of a volume x of the tidal one; where it is four fifths, x tells C20/C.
fn curve(bits: i32) {
    let s = float(bits);
    if !(-0.99..=1.0).contains(&s) {
        if let C20OverC::Unknown(why) = c20_of_curve(Share::from_bits(bits)) {
            said(&why);
        }
        return;
    }
    let C20OverC::Known { ratio, bends } = c20_of_curve(Share::from_bits(bits)) else {
        panic!("a curve of share {s} rises");
    };
    let (mut low, mut high) = (0.0_f64, 1.0_f64);
    for _ in 0..60 {
        let x = f64::midpoint(low, high);
        if (1.0 - s) * x + s * x * x < 0.8 { low = x } else { high = x }
    }
    let (got, want) = (float(ratio.to_bits()), 5.0 * (1.0 - low));
    assert!((got - want).abs() <= 4e-4, "{got}, not {want} of {s}");
    assert_eq!(bends, ratio < Share::from_percent(80));
}
