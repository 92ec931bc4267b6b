//! Exact quotients in whole numbers.

use tidevane::quantity::Saturated;

/// Half away from zero; the divisor is above zero.
pub(crate) fn rounded(top: i128, bottom: i128) -> i128 {
    let size = (top.abs() * 2 + bottom) / (bottom * 2);
    if top < 0 { -size } else { size }
}

/// A result that is exact to its last bit, or clamped and said to be.
pub(crate) fn exactly(got: Saturated<i32>, want: i128) {
    let (least, most) = (i128::from(i32::MIN), i128::from(i32::MAX));
    assert_eq!(i128::from(got.value), want.clamp(least, most));
    assert_eq!(got.saturated, want < least || want > most, "{want}");
}
