//! How far a lung empties.

use crate::fuzzed::arguments::{STEP, float, number, seconds, span};
use crate::fuzzed::bytes::Bytes;
use tidevane::mechanics::exhaled_share;
use tidevane::quantity::Duration;

pub(super) fn check(bytes: &mut Bytes<'_>) -> Option<()> {
    let (a, b, tau) = (span(bytes)?, span(bytes)?, span(bytes)?);
    // No longer asked; read, so that a seed keeps its meaning.
    let _ = (number(bytes)?, number(bytes)?, number(bytes)?);
    shares(a, tau);
    assert!(exhaled_share(a.max(b), tau) >= exhaled_share(a.min(b), tau), "less after longer");
    Some(())
}

/// 1 − e^(−t/τ) of times up to 97 000 years.
fn shares(span: Duration, tau: Duration) {
    if tau.to_us() > u64::MAX / 6 {
        return;
    }
    let share = exhaled_share(span, tau);
    if tau == Duration::ZERO {
        assert_eq!(share, None);
        return;
    }
    let left = (-seconds(span) / seconds(tau)).exp();
    let got = float(share.unwrap().to_bits());
    assert!((got - (1.0 - left)).abs() <= 1.01 * STEP, "{got} for {left}");
}
