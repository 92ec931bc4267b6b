//! Figures of published tests.
//!
//! - The two parts of a rate are the whole.

use super::support::inflation;
use crate::fuzzed::arguments::number;
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::words::said;
use tidevane::bedside::{BELOW_THRESHOLD_GROUPS, PUBLISHED_TESTS, RateSplit};
use tidevane::quantity::Rate;

pub(super) fn check(bytes: &mut Bytes<'_>) -> Option<()> {
    // No longer asked; read, so that a seed keeps its meaning.
    let _ = [count(bytes)?, count(bytes)?, count(bytes)?, count(bytes)?];
    let test = &PUBLISHED_TESTS[usize::from(bytes.u8()?) % PUBLISHED_TESTS.len()];
    said(&test.figures);
    assert!(said(test).starts_with(test.name) && said(test).contains(test.source));
    number(bytes)?;
    assert!(BELOW_THRESHOLD_GROUPS.iter().all(|g| g.low < g.median && g.median < g.high));
    split(bytes)
}

/// Few, or many.
fn count(bytes: &mut Bytes<'_>) -> Option<u32> {
    let count = bytes.u8()?;
    if count < 250 { Some(count.into()) } else { bytes.u32() }
}

fn split(bytes: &mut Bytes<'_>) -> Option<()> {
    let (set, total) = (number(bytes)?, number(bytes)?);
    // No longer asked; read, so that a seed keeps its meaning.
    let _ = (bytes.u16()?, inflation(bytes)?);
    let split = RateSplit::of(Rate::from_bits(set), Rate::from_bits(total));
    let all = total.max(0);
    let fully = set.clamp(0, all);
    assert_eq!((split.full.to_bits(), split.supported.to_bits()), (fully, all - fully));
    Some(())
}
