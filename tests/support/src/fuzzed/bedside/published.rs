//! Figures of published tests.
//!
//! - The four figures are quotients of the counts, toward zero; none where nothing is counted.
//! - The two parts of a rate are the whole.

use super::support::inflation;
use crate::fuzzed::arguments::number;
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::words::said;
use tidevane::bedside::{BELOW_THRESHOLD_GROUPS, Figures, PUBLISHED_TESTS, Supported, TwoByTwo};
use tidevane::quantity::{Rate, Share};

pub(super) fn check(bytes: &mut Bytes<'_>) -> Option<()> {
    let [a, b, c, d] = [count(bytes)?, count(bytes)?, count(bytes)?, count(bytes)?];
    let table = TwoByTwo::new(a, b, c, d);
    let sum = [a, b, c, d].iter().map(|n| u64::from(*n)).sum::<u64>();
    assert_eq!(u64::from(table.total()), sum.min(u32::MAX.into()));
    let figures = table.figures();
    for (got, part, rest) in [
        (figures.sensitivity, a, c),
        (figures.specificity, d, b),
        (figures.positive_value, a, b),
        (figures.negative_value, d, c),
    ] {
        let (part, whole) = (u64::from(part), u64::from(part) + u64::from(rest));
        let want = (part << 16).checked_div(whole).and_then(|bits| i32::try_from(bits).ok());
        assert_eq!(got.map(Share::to_bits), want, "{part} of {whole}");
    }
    let all =
        [figures.sensitivity, figures.specificity, figures.positive_value, figures.negative_value];
    let text = said(&figures);
    let known = all.iter().flatten().count();
    assert_eq!(text.matches('%').count(), known, "{text}");
    assert_eq!(figures == Figures::default(), known == 0);
    let test = &PUBLISHED_TESTS[usize::from(bytes.u8()?) % PUBLISHED_TESTS.len()];
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
    for way in [Supported::Every, Supported::AboveSetRate] {
        let split = way.share_out(Rate::from_bits(set), Rate::from_bits(total));
        let all = total.max(0);
        let fully = if way == Supported::Every { 0 } else { set.clamp(0, all) };
        assert_eq!((split.full.to_bits(), split.supported.to_bits()), (fully, all - fully));
    }
    Some(())
}
