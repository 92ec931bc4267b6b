//! Where a constructor refuses, and what it says of it.

use super::words::said;
use tidevane::quantity::{Duration, SettingError};

/// Taken exactly where nothing is wrong; else the first that is wrong is named.
pub(crate) fn held<T>(result: &Result<T, SettingError>, wrong: &[(&str, bool)]) {
    let first = wrong.iter().find(|(_, is_wrong)| *is_wrong).map(|(name, _)| *name);
    let named = result.as_ref().err().map(|error| error.parameter);
    assert_eq!(named, first, "of {wrong:?}");
    if let Err(error) = result {
        assert!(said(error).starts_with(error.parameter));
    }
}

/// Outside thousandths of a unit, which a bound rounds to the nearest step.
pub(crate) fn off(bits: i32, low: i64, high: i64) -> bool {
    let bound = |thousandths: i64| (thousandths * 65_536 + 500).div_euclid(1_000);
    !(bound(low)..=bound(high)).contains(&i64::from(bits))
}

pub(crate) fn long(span: Duration, low_ms: u64, high_ms: u64) -> bool {
    !(low_ms * 1_000..=high_ms * 1_000).contains(&span.to_us())
}
