//! Arguments out of bytes, often near what a calculator takes, and what they are in floating point.

use super::bytes::Bytes;
use tidevane::quantity::{Duration, Mass, Saturated};

/// Of a quantity's bits.
pub(crate) fn number(bytes: &mut Bytes<'_>) -> Option<i32> {
    let kind = bytes.u8()?;
    let raw = bytes.i16()?;
    Some(match kind % 4 {
        0 => i32::from(raw) << 16,
        1 => i32::from(raw) << 8,
        2 => (i32::from(raw) << 16) / 100 + i32::from(kind / 4) - 32,
        _ => i32::from(raw),
    })
}

pub(crate) fn span(bytes: &mut Bytes<'_>) -> Option<Duration> {
    let kind = bytes.u8()?;
    let raw = bytes.u16()?;
    Some(match kind {
        0..=127 => Duration::from_millis(raw.into()),
        128..=247 => Duration::from_us((u64::from(raw) * 1_000).saturating_sub((kind % 3).into())),
        _ => Duration::from_us(bytes.u64()?),
    })
}

/// 200 g to 200 kg.
pub(crate) fn mass(bytes: &mut Bytes<'_>) -> Option<Mass> {
    Mass::from_grams((u32::from(bytes.u16()?) * 4).clamp(200, 200_000)).ok()
}

pub(crate) fn float(bits: i32) -> f64 {
    f64::from(bits) / 65_536.0
}

pub(crate) fn seconds(span: Duration) -> f64 {
    span.to_us() as f64 / 1e6
}

/// A result against what it should be: within a slack, or clamped on the side where that lies. `saturated` is
/// told exactly where the range of a quantity is left, but for the slack itself.
pub(crate) fn near(got: Saturated<i32>, want: f64, slack: f64) {
    let (least, most) = (float(i32::MIN), float(i32::MAX));
    if got.saturated {
        let beyond = want <= least + slack || want >= most - slack;
        assert!(beyond && (got.value < 0) == (want < 0.0), "{got:?} for {want} ± {slack}");
    } else {
        let off = (float(got.value) - want).abs();
        assert!(off <= slack, "{} for {want} ± {slack}: off by {off}", float(got.value));
    }
}

/// A step of a quantity.
pub(crate) const STEP: f64 = 1.0 / 65_536.0;
