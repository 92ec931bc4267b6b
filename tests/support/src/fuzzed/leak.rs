//! The leak path, its window, its split and the volume in the lung, against `f64` and `i128`.
//!
//! - The reading with its leak taken off is q − k·f(P).
//! - The share over the window is that of the last eight trusted breaths.
//! - The split lies between 0 and 1; what reached the lung keeps its stated range.
//! - A flagged breath teaches nothing; what is clamped is said.

use super::bytes::Bytes;
use super::made::{Made, breath};
use std::collections::VecDeque;
use tidevane::leak::{
    Law, Leak, LeakFit, LeakPath, LeakPathState, LeakWindowState, LungVolume, NoLeak, Split,
    ZeroState, ZeroWatch,
};
use tidevane::quantity::{Drive, Moment, Share, Volume};
use tidevane::signal::{Flags, Reading};

fn float(bits: i32) -> f64 {
    f64::from(bits) / 65_536.0
}

/// Holds all of the above.
///
/// # Panics
/// Where one of them does not hold.
pub fn check(data: &[u8]) {
    let mut bytes = Bytes(data);
    let Some((law, least, zero)) = head(&mut bytes) else { return };
    let path = LeakPath::new(law, least);
    assert_eq!(path.is_ok(), least > Drive::ZERO && least <= Drive::from_int(100));
    let Ok(path) = path else { return };
    let (mut state, mut window) = (LeakPathState::default(), LeakWindowState::<8>::default());
    let (mut drift, mut last) = (ZeroState::default(), VecDeque::new());
    let mut onset = Moment::from_us(1);
    while let Some(made) = breath(&mut bytes, law, onset) {
        let b = &made.breath;
        onset = b.end;
        let was = (state, window, drift);
        let unsettled = path.judge(&state, b);
        assert!(unsettled.is_empty() || unsettled == Flags::UNSETTLED);
        path.learn(&mut state, b);
        window.learn(b);
        zero.learn(&mut drift, &path, &state, b);
        let fit = drift.fit();
        let doubled = |sums: (Reading, tidevane::quantity::Span)| {
            i128::from(sums.0.flow.to_bits()) * 2 * i128::from(sums.1.to_us())
        };
        if b.is_trusted() {
            // Gas that only came in for more than 2 s is a pause: nothing came back.
            let paused = doubled(made.outward) >= 0 && made.outward.1.to_us() > 2_000_000;
            let back = if paused { 0 } else { -doubled(made.outward) };
            last.push_back((doubled(made.inward), back));
            if last.len() > 8 {
                last.pop_front();
            }
        } else {
            assert!(
                unsettled.is_empty() && (state, window, drift) == was,
                "a flagged breath teaches nothing"
            );
        }
        shares(window.leak(), &last);
        corrected(&path, &state, made.inward.0);
        corrected(&path, &state, made.outward.0);
        split(&made, law);
        lung(&path, &state, &made);
        if let LeakFit::Drift(offset) | LeakFit::Steeper(offset) = fit {
            assert!(float(offset.to_bits()).abs() >= 0.1, "{fit:?}");
        }
    }
}

fn head(bytes: &mut Bytes<'_>) -> Option<(Law, Drive, ZeroWatch)> {
    let law = if bytes.u8()? % 2 == 0 { Law::Orifice } else { Law::Laminar };
    let least = Drive::from_bits(i32::from(bytes.i16()?) << 10);
    Some((law, least, ZeroWatch::default()))
}

fn shares(got: Leak, last: &VecDeque<(i128, i128)>) {
    let (inspired, expired) = last.iter().fold((0, 0), |sum, b| (sum.0 + b.0, sum.1 + b.1));
    let want = (inspired - expired) as f64 / inspired as f64;
    match got {
        Leak::Unknown(NoLeak::NoBreath) => assert!(last.is_empty()),
        Leak::Unknown(NoLeak::NothingInspired) => assert!(inspired <= 0),
        Leak::Unknown(NoLeak::OutOfRange) => assert!(want.abs() > 32_767.9, "{want}"),
        Leak::Share(share) | Leak::Negative(share) => {
            let off = (float(share.to_bits()) - want).abs();
            assert!(off <= 1.001 / 65_536.0 + want.abs() * 1e-9, "{share} for {want}");
            assert_eq!(matches!(got, Leak::Negative(_)), share < Share::ZERO);
        }
        other @ Leak::Unknown(_) => panic!("{other:?}"),
    }
}

fn corrected(path: &LeakPath, state: &LeakPathState, reading: Reading) {
    let got = path.correct(state, reading);
    let k = state.conductance().map_or(0.0, |k| float(k.to_bits()));
    let pressure = float(reading.pressure.to_bits());
    let drive = match path.law() {
        Law::Orifice => pressure.abs().sqrt() * pressure.signum(),
        Law::Laminar => pressure,
    };
    let want = float(reading.flow.to_bits()) - k * drive;
    if got.saturated {
        assert!(want.abs() > 32_767.0 || (k * drive).abs() > 32_767.0, "{want}");
    } else {
        // The root: 4·10⁻⁵ of itself and one step; the product, half a step.
        let allowed = k.abs() * (4e-5 * drive.abs() + 1.0 / 65_536.0) + 1.0 / 65_536.0;
        let off = (float(got.value.lung.to_bits()) - want).abs();
        assert!(off <= allowed, "{want} off by {off} of {allowed}");
    }
}

fn split(made: &Made, law: Law) {
    let b = &made.breath;
    let area = |(reading, span): (Reading, tidevane::quantity::Span)| {
        f64::from(law.drive(reading.pressure).to_bits()) * span.to_us() as f64
    };
    let (i, e) = (area(made.inward), area(made.outward));
    let Some(split) = Split::of_breath(b) else {
        assert!(i < 0.0 || e < 0.0 || i + e == 0.0, "{i} {e}");
        return;
    };
    let part = float(split.inspiratory().to_bits());
    assert!((0.0..=1.0).contains(&part) && (part - i / (i + e)).abs() < 2.0 / 65_536.0);
    let (inspired, expired) = (b.inspired, b.expired);
    let rest = split.lung_volume(inspired.value, expired.value);
    if !rest.saturated {
        let (low, high) = (inspired.value.min(expired.value), inspired.value.max(expired.value));
        let step = Volume::from_bits(1);
        assert!(rest.value >= low.saturating_sub(step).value);
        assert!(rest.value <= high.saturating_add(step).value);
    }
}

fn lung(path: &LeakPath, state: &LeakPathState, made: &Made) {
    let b = &made.breath;
    match path.lung_volume(state, b) {
        LungVolume::Known { volume, sd } => {
            assert!(b.is_trusted() && state.window_share().is_some());
            assert!(sd >= Volume::ZERO && sd <= volume.halved(1), "{sd} of {volume}");
            let into = path.into_lung(state, &b.inspiration);
            assert!(!into.saturated, "a clamped volume is called known");
            assert_eq!(volume, into.value);
        }
        LungVolume::Unknown(_) => {}
    }
}
