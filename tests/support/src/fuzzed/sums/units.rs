//! Units of other trades, and the arithmetic of quantities.
//!
//! - Each conversion is the exact quotient of its documents, rounded as they say, or clamped and said to be.
//! - What is printed is the number.

use crate::fuzzed::arguments::{STEP, float, number, seconds, span};
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::whole::{exactly, rounded};
use crate::fuzzed::words::said;
use fixed::types::I16F16;
use tidevane::quantity::{Duration, Flow, Instant, Pressure, Saturated, Share, Volume};

/// Often any bits at all.
fn bits(bytes: &mut Bytes<'_>) -> Option<i32> {
    if bytes.u8()? % 2 == 0 { number(bytes) } else { bytes.i32() }
}

pub(super) fn numbers(bytes: &mut Bytes<'_>) -> Option<()> {
    let (a, b) = (bits(bytes)?, bits(bytes)?);
    let (x, wide, other) = (I16F16::from_bits(a), i128::from(a), i128::from(b));
    let plain = |value: Saturated<Pressure>| value.map(Pressure::to_bits);
    exactly(Flow::from_l_per_min(x).map(Flow::to_bits), rounded(wide * 50, 3));
    exactly(Flow::from_milli_l_per_min(a).map(Flow::to_bits), rounded(wide * 65_536 * 50, 3_000));
    exactly(plain(Pressure::from_hpa(x)), rounded(wide * 1_000_000, 980_665));
    exactly(plain(Pressure::from_milli(a)), rounded(wide * 65_536, 1_000));
    let got = Flow::from_bits(a).to_l_per_min();
    assert_eq!(i128::from(got.to_bits()), rounded(wide * 3, 50));
    let (p, q) = (Pressure::from_bits(a), Pressure::from_bits(b));
    exactly(plain(p.saturating_add(q)), wide + other);
    exactly(plain(p.saturating_sub(q)), wide - other);
    // Half up.
    exactly(plain(p.times(Share::from_bits(b))), (wide * other + (1 << 15)) >> 16);
    let whole = (a >> 16) as i16;
    assert_eq!(Pressure::from_int(whole).to_bits(), i32::from(whole) << 16);
    let want = rounded(i128::from(whole) * 65_536, 100);
    assert_eq!(i128::from(Share::from_percent(whole).to_bits()), want);
    printed(Volume::from_bits(a));
    Some(())
}

fn printed(volume: Volume) {
    let value = float(volume.to_bits());
    let read = |text: &str| text.strip_suffix(" mL").unwrap().parse::<f64>().unwrap();
    assert!((read(&said(&volume)) - value).abs() <= 0.005 + 1e-9, "{volume}");
    let close = read(&format!("{volume:?}"));
    assert!((close - value).abs() < STEP, "{volume:?} is not {value}");
}

pub(super) fn times(bytes: &mut Bytes<'_>) -> Option<()> {
    let (a, b, _) = (span(bytes)?, span(bytes)?, bits(bytes)?);
    // No longer asked; read, so that a seed keeps its meaning.
    let _ = (bytes.u32()?, bytes.u32()?);
    let wide = |span: Duration| u128::from(span.to_us());
    let (x, y) = (wide(a), wide(b));
    let most = u128::from(u64::MAX);
    assert_eq!(wide(a.saturating_add(b)), (x + y).min(most));
    assert_eq!(wide(a.saturating_sub(b)), x.saturating_sub(y));
    let begin = Instant::from_us(a.to_us());
    assert_eq!(u128::from(begin.after(b).to_us()), (x + y).min(most));
    assert_eq!(wide(begin.since(Instant::from_us(b.to_us()))), x.saturating_sub(y));
    let text = said(&a);
    let read: f64 = text.strip_suffix(" s").unwrap().parse().unwrap();
    assert!((read - seconds(a)).abs() <= 0.001 + seconds(a) * 1e-15, "{text}");
    Some(())
}
