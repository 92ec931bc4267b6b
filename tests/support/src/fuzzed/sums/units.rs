//! Units of other trades, and the arithmetic of quantities.
//!
//! - Each conversion is the exact quotient of its documents, rounded as they say, or clamped and said to be.
//! - What is printed is the number.

use crate::fuzzed::arguments::{STEP, float, number, seconds, span};
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::whole::{exactly, rounded};
use crate::fuzzed::words::said;
use fixed::types::I16F16;
use tidevane::quantity::{
    Compliance, Duration, Flow, Instant, Pressure, Rate, Resistance, Saturated, Share, Term, Tick,
    Volume,
};

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
    exactly(plain(Pressure::from_kpa(x)), rounded(wide * 10_000_000, 980_665));
    exactly(plain(Pressure::from_mmhg(x)), rounded(wide * 133_322_387, 98_066_500));
    exactly(plain(Pressure::from_milli(a)), rounded(wide * 65_536, 1_000));
    let resistance = Resistance::from_kpa_s_per_l(x);
    exactly(resistance.map(Resistance::to_bits), rounded(wide * 10_000_000, 980_665));
    let pressure = Pressure::from_bits(a);
    for (got, top, bottom) in [
        (Flow::from_bits(a).to_l_per_min(), 3, 50),
        (pressure.to_hpa(), 980_665, 1_000_000),
        (pressure.to_kpa(), 980_665, 10_000_000),
        (pressure.to_mmhg(), 98_066_500, 133_322_387),
        (Compliance::from_ml_per_kpa(x).get(), 980_665, 10_000_000),
    ] {
        assert_eq!(i128::from(got.to_bits()), rounded(wide * top, bottom));
    }
    let (p, q) = (pressure, Pressure::from_bits(b));
    exactly(plain(p.saturating_add(q)), wide + other);
    exactly(plain(p.saturating_sub(q)), wide - other);
    // Half up.
    exactly(plain(p.times(Share::from_bits(b))), (wide * other + (1 << 15)) >> 16);
    let share = p.share_of(q);
    assert_eq!(share.is_some(), b != 0);
    if let Some(share) = share {
        exactly(share.map(Share::to_bits), (wide << 16) / other);
    }
    let percent = Share::from_bits(a).to_percent();
    exactly(percent.map(I16F16::to_bits), wide * 100);
    let whole = (a >> 16) as i16;
    assert_eq!(Pressure::from_int(whole).to_bits(), i32::from(whole) << 16);
    let want = rounded(i128::from(whole) * 65_536, 100);
    assert_eq!(i128::from(Share::from_percent(whole).to_bits()), want);
    let root = float(p.root().to_bits());
    let want = float(a).abs().sqrt() * f64::from(a.signum());
    // The table of roots: 4·10⁻⁵ and a step.
    assert!((root - want).abs() <= STEP + want.abs() * 4e-5, "{root}, not {want}");
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
    let (a, b, rate) = (span(bytes)?, span(bytes)?, bits(bytes)?);
    let (from, to) = (bytes.u32()?, bytes.u32()?);
    let wide = |span: Duration| u128::from(span.to_us());
    let (x, y) = (wide(a), wide(b));
    let most = u128::from(u64::MAX);
    assert_eq!(wide(a.saturating_add(b)), (x + y).min(most));
    assert_eq!(wide(a.saturating_sub(b)), x.saturating_sub(y));
    assert_eq!(wide(a.twentieth()), x / 20);
    let begin = Instant::from_us(a.to_us());
    assert_eq!(u128::from(begin.after(b).to_us()), (x + y).min(most));
    assert_eq!(wide(begin.since(Instant::from_us(b.to_us()))), x.saturating_sub(y));
    let short = a.to_short_us();
    assert_eq!((u128::from(short.value), short.saturated), (x.min(0x7fff_ffff), x > 0x7fff_ffff));
    let (ratio, want) = (a.ratio(b), (x << 16).checked_div(y).filter(|_| x > 0));
    assert_eq!(ratio.is_some(), want.is_some(), "{a} of {b}");
    if let Some((ratio, want)) = ratio.zip(want) {
        exactly(ratio.map(Share::to_bits), want as i128);
    }
    let minute = 60_000_000_u128 << 16;
    let of_period = Rate::of_period(a);
    assert_eq!(of_period.is_some(), !a.is_zero());
    if let Some(got) = of_period {
        exactly(got.map(Rate::to_bits), (minute / x) as i128);
    }
    let period = Rate::from_bits(rate).period();
    assert_eq!(period.map(wide), u128::try_from(rate).ok().filter(|r| *r > 0).map(|r| minute / r));
    let text = said(&a);
    let read: f64 = text.strip_suffix(" s").unwrap().parse().unwrap();
    assert!((read - seconds(a)).abs() <= 0.001 + seconds(a) * 1e-15, "{text}");
    volume(Flow::from_bits(rate), a);
    ticks(Tick::from_us(from), Tick::from_us(to));
    let [upper, lower] = [(from >> 16) as u16, to as u16];
    let term = Term::new(upper, lower);
    assert_eq!(term.code(), u32::from(upper) << 16 | u32::from(lower));
    assert_eq!(term.as_setting(), (upper == 2).then(|| Term::new(258, lower)));
    Some(())
}

fn volume(flow: Flow, span: Duration) {
    let moved = flow.over(span);
    let us = i128::from(span.to_us());
    if us > 0x7fff_ffff {
        assert!(moved.saturated, "a span that was cut is not told");
    } else {
        let moved = moved.map(Volume::to_bits);
        exactly(moved, rounded(i128::from(flow.to_bits()) * us, 1_000_000));
    }
}

fn ticks(from: Tick, to: Tick) {
    let ahead = to.us_since(from);
    assert_eq!(ahead, to.to_us().wrapping_sub(from.to_us()));
    assert_eq!(to.is_after(from), (1..1 << 31).contains(&ahead));
    assert!(!(to.is_after(from) && from.is_after(to)));
}
