//! A limit of volume that is a share of a target.

use crate::fuzzed::arguments::{number, span};
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::refused::held;
use tidevane::quantity::{Share, Volume};
use tidevane::volume::Limiter;

pub(super) fn check(bytes: &mut Bytes<'_>) -> Option<()> {
    let (target, share, delay) = (number(bytes)?, number(bytes)?, span(bytes)?);
    let made = Limiter::of_target(Volume::from_bits(target), Share::from_bits(share), delay);
    // Half up.
    let limit = (i64::from(target) * i64::from(share) + (1 << 15)) >> 16;
    let beyond = i32::try_from(limit).is_err();
    held(&made, &[("limit", limit <= 0 || beyond), ("delay", delay.to_us() > 500_000)]);
    let Ok(made) = made else { return Some(()) };
    assert_eq!((i64::from(made.limit().to_bits()), made.delay()), (limit, delay));
    Some(())
}
