//! The leak path, its window, its split and the volume in the lung, against `f64` and `i128`.
//!
//! - The reading with its leak taken off is q less what the model has at the tip of the tube,
//!   P − K1·q − K2·q·|q|.
//! - The share over the window is that of the last eight trusted breaths.
//! - The split lies between 0 and 1; what reached the lung keeps its stated range.
//! - A flagged breath teaches nothing; what is clamped is said.

use super::arguments::float;
use super::bytes::Bytes;
use super::made::{Made, breath};
use fixed::types::I16F16;
use std::collections::VecDeque;
use tidevane::leak::{
    InspiratoryLeakShare, Leak, LeakConsistency, LeakPath, LeakPathState, LeakWindowState,
    LungVolume, NoLeak, Tube, ZeroDriftDetector, ZeroDriftState,
};
use tidevane::mechanics::TubeResistance;
use tidevane::quantity::{Flow, Instant, Resistance, Saturated, Share, Volume};
use tidevane::signal::{Flags, Reading};

/// Holds all of the above.
///
/// # Panics
/// Where one of them does not hold.
pub fn check(data: &[u8]) {
    let mut bytes = Bytes(data);
    let Some((tube, zero)) = head(&mut bytes) else { return };
    let path = LeakPath::default().with_tube(tube);
    let (mut state, mut window) = (LeakPathState::default(), LeakWindowState::<8>::default());
    let (mut drift, mut last) = (ZeroDriftState::default(), VecDeque::new());
    let mut onset = Instant::from_us(1);
    while let Some(made) = breath(&mut bytes, onset) {
        let b = &made.breath;
        onset = b.end;
        let was = (state, window, drift);
        let unsettled = path.judge(&state, b);
        assert!(unsettled == Flags::NONE || unsettled == Flags::UNSETTLED);
        path.learn(&mut state, b);
        window.learn(b);
        zero.learn(&mut drift, b);
        let fit = drift.fit();
        if b.is_trusted() {
            // Gas that only came in for more than 2 s is a pause: nothing came back.
            let bits = |volume: Saturated<Volume>| i128::from(volume.value.to_bits());
            last.push_back((bits(b.inspired), bits(b.expired)));
            if last.len() > 8 {
                last.pop_front();
            }
        } else {
            assert!(
                unsettled == Flags::NONE && (state, window, drift) == was,
                "a flagged breath teaches nothing"
            );
        }
        shares(window.leak(), &last);
        corrected(&path, &state, made.inward.0);
        corrected(&path, &state, made.outward.0);
        split(&made);
        lung(&path, &state, &made);
        if let LeakConsistency::Drift(offset) | LeakConsistency::Steeper(offset) = fit {
            assert!(float(offset.to_bits()).abs() >= 0.1, "{fit:?}");
        }
    }
}

fn head(bytes: &mut Bytes<'_>) -> Option<(Tube, ZeroDriftDetector)> {
    let (kind, k1, k2) = (bytes.u8()?, bytes.u8()?, bytes.u8()?);
    let k2 = I16F16::from_num(i16::from(k2) * 8);
    let tube =
        TubeResistance::new(Resistance::from_int(i16::from(k1)), k2).map(|tube| match kind % 2 {
            0 => Tube::Measured(tube),
            _ => Tube::ByWeight(tube),
        });
    Some((tube.unwrap_or_default(), ZeroDriftDetector::default()))
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
    let (flow, pressure) = (float(reading.flow.to_bits()), float(reading.pressure.to_bits()));
    let loss = match path.tube() {
        Tube::Unknown => 0.0,
        Tube::Measured(tube) | Tube::Likely(tube) | Tube::ByWeight(tube) => {
            let (k1, k2) = tube.coefficients();
            let (k1, k2) = (float(k1.to_bits()) / 1e3, float(k2.to_bits()) / 1e6);
            let cut = flow.clamp(-3_000.0, 3_000.0);
            cut * (k1 + k2 * cut.abs())
        }
    };
    let tip = got.value.tip;
    let past = path.flow_at(state, tip).unwrap_or(Saturated::exact(Flow::ZERO));
    let want = flow - float(past.value.to_bits());
    if got.saturated {
        let off = [pressure - loss, float(past.value.to_bits()), want];
        assert!(off.iter().any(|x| x.abs() > 2_999.0), "{reading:?}: {off:?}");
        return;
    }
    // Half a step of each coefficient and product, and 10⁻⁶ of the loss.
    let allowed = 4.0 / 65_536.0 + loss.abs() * 1e-6;
    let off = (float(tip.to_bits()) - (pressure - loss)).abs();
    assert!(off <= allowed, "{tip} off by {off} of {allowed}");
    assert!((float(got.value.lung.to_bits()) - want).abs() <= 1.0 / 65_536.0, "{want}");
}

fn split(made: &Made) {
    let b = &made.breath;
    let area = |(reading, span): (Reading, tidevane::quantity::Duration)| {
        f64::from(reading.pressure.to_bits()) * span.to_us() as f64
    };
    let (i, e) = (area(made.inward), area(made.outward));
    let Some(split) = InspiratoryLeakShare::of_breath(b) else {
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
            assert!(Flags::ZERO_DRIFT.has(b.flags) && !state.is_guessing());
            assert!(
                sd >= Volume::ZERO && sd <= Volume::from_bits(volume.to_bits() >> 1),
                "{sd} of {volume}"
            );
            let into = path.into_lung(state, &b.inspiration);
            assert!(!into.saturated, "a clamped volume is called known");
            assert_eq!(volume, into.value);
        }
        LungVolume::Unknown(_) => {}
    }
}
