//! The two published definitions of a leak, what is left of a volume, and the counts of synchrony.

use crate::fuzzed::arguments::{STEP, float, number, span};
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::words::said;
use tidevane::leak::{Leak, LeakOfExpired, NoLeak, VolumeCredibility};
use tidevane::quantity::{Share, Volume};
use tidevane::trigger::{Cause, CountAccuracy, NoCause};

pub(super) fn check(bytes: &mut Bytes<'_>) -> Option<()> {
    let (inspired, expired, share) = (number(bytes)?, number(bytes)?, number(bytes)?);
    let leak = Leak::of(Volume::from_bits(inspired), Volume::from_bits(expired));
    let (i, e) = (i128::from(inspired), i128::from(expired));
    let want = ((i - e) << 16).checked_div(i);
    match leak {
        Leak::Share(got) | Leak::Negative(got) => {
            assert!(i > 0);
            assert_eq!(Some(i128::from(got.to_bits())), want);
            assert_eq!(matches!(leak, Leak::Negative(_)), got < Share::ZERO);
            ways(leak, float(got.to_bits()));
        }
        Leak::Unknown(NoLeak::NothingInspired) => assert!(i <= 0),
        Leak::Unknown(why) => {
            assert_eq!(why, NoLeak::OutOfRange);
            assert!(want.is_some_and(|bits| i32::try_from(bits).is_err()));
        }
    }
    said(&leak);
    back(share);
    let credible = VolumeCredibility::at(Share::from_bits(share));
    let percent = float(share) * 100.0;
    assert_eq!(credible == VolumeCredibility::Usable, percent <= 40.0);
    assert_eq!(credible == VolumeCredibility::TargetingHopeless, percent > 50.0);
    said(&credible);
    synchrony(bytes)
}

/// A ÷ (1 − A), and back.
fn ways(leak: Leak, a: f64) {
    let of_expired = leak.of_expired();
    let Some(LeakOfExpired(share)) = of_expired else {
        // Nothing came back, or next to nothing.
        assert!(a >= 1.0 || a / (1.0 - a) > 32_767.0 || a < -32_766.0, "{leak:?}");
        return;
    };
    let (got, want) = (float(share.to_bits()), a / (1.0 - a));
    assert!((got - want).abs() <= STEP * 1.01, "{got}, not {want}");
    let Some(again) = of_expired.and_then(LeakOfExpired::of_inspired) else {
        assert!(got <= -1.0 || got > 32_766.0, "{got} comes from a share");
        return;
    };
    let again = again.share().map_or(f64::NAN, |share| float(share.to_bits()));
    // A step of B is (1 − A)² of A.
    let slack = STEP * (1.5 + 1.5 * (1.0 - a).powi(2));
    assert!((again - a).abs() <= slack || a < -200.0, "{again} for {a}");
}

/// B ÷ (1 + B) of any B.
fn back(bits: i32) {
    let b = float(bits);
    match LeakOfExpired(Share::from_bits(bits)).of_inspired().and_then(Leak::share) {
        Some(share) => {
            assert!(b > -1.0);
            let (got, want) = (float(share.to_bits()), b / (1.0 + b));
            assert!((got - want).abs() <= STEP * 1.01, "{got}, not {want}");
        }
        None => assert!(b <= -1.0 || b / (1.0 + b) < -32_767.0 || b > 32_766.0, "{b}"),
    }
}

fn synchrony(bytes: &mut Bytes<'_>) -> Option<()> {
    // No longer asked; read, so that a seed keeps its meaning.
    let _ = (span(bytes)?, span(bytes)?, bytes.u16()?, bytes.u16()?, bytes.u8()?);
    for cause in [Cause::Timed, Cause::Effort, Cause::SelfLeak, Cause::SelfRipple] {
        let known = CountAccuracy::of_cause(cause);
        assert!(known.is_some_and(|known| known.specificity <= Share::ONE
            && known.sensitivity > Share::ZERO
            && known.sensitivity <= Share::ONE));
        assert!(!cause.name().is_empty());
        let by_itself = matches!(cause, Cause::SelfLeak | Cause::SelfRipple);
        assert_eq!(cause.is_self_cycled(), by_itself);
    }
    assert_eq!(CountAccuracy::of_cause(Cause::Unknown(NoCause::Flagged)), None);
    Some(())
}
