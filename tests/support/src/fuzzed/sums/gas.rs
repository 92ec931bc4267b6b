//! Gas states and the zero of a flow sensor.
//!
//! - A factor within 2·10⁻⁴ of the quotient by Buck's form of the vapour pressure, and its way back is one over it.
//! - A zero is the mean of its samples, toward zero, unless they moved by more than the limit.

use crate::fuzzed::arguments::{float, near, number};
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::refused::held;
use tidevane::quantity::{Flow, Pressure, Share};
use tidevane::signal::gas::{Celsius, GasState};
use tidevane::signal::{Unsteady, ZeroCapture, ZeroCaptureState};

/// Dry pressure in cmH2O and kelvin.
type Plain = (f64, f64);

fn state(bytes: &mut Bytes<'_>) -> Option<Option<(GasState, Plain)>> {
    let (what, hundredths) = (bytes.u8()?, bytes.u16()? % 4_200);
    // 0 to 2 048 cmH2O.
    let absolute = i32::from(bytes.u16()?) << 11;
    number(bytes)?;
    let celsius = Celsius::from_hundredths(hundredths);
    held(&celsius, &[("temperature", hundredths > 4_000)]);
    let celsius = celsius.unwrap_or(Celsius::from_hundredths(3_700).unwrap());
    let kelvin = |hundredths: u16| 273.15 + f64::from(hundredths) / 100.0;
    let warm = if hundredths > 4_000 { 3_700 } else { hundredths };
    let pressure = Pressure::from_bits(absolute);
    let wrong = ("absolute", !(500 << 16..=1_200 << 16).contains(&absolute));
    let (made, vapour, kelvin) = match what % 5 {
        0 | 1 => {
            (GasState::saturated(pressure, celsius), buck(f64::from(warm) / 100.0), kelvin(warm))
        }
        2 => (GasState::dry(pressure, celsius), 0.0, kelvin(warm)),
        3 => (GasState::btps(pressure), buck(37.0), kelvin(3_700)),
        _ => return Some(Some((GasState::stpd(), (1_033.227, 273.15)))),
    };
    held(&made, &[wrong]);
    Some(made.ok().map(|made| (made, (float(absolute) - vapour, kelvin))))
}

/// 6.1121·e^((18.678 − T ÷ 234.5)·T ÷ (257.14 + T)) hPa (Buck 1996); 1 cmH2O is 0.980665 hPa.
fn buck(t: f64) -> f64 {
    6.1121 * ((18.678 - t / 234.5) * t / (257.14 + t)).exp() / 0.980_665
}

pub(super) fn states(bytes: &mut Bytes<'_>) -> Option<()> {
    let (Some((here, a)), Some((there, b))) = (state(bytes)?, state(bytes)?) else {
        return Some(());
    };
    let (to, back) = (here.factor_to(there), there.factor_to(here));
    near(to.map(Share::to_bits), a.0 / b.0 * b.1 / a.1, 2e-4);
    near(back.map(Share::to_bits), b.0 / a.0 * a.1 / b.1, 2e-4);
    let both = float(to.value.to_bits()) * float(back.value.to_bits());
    assert!((both - 1.0).abs() < 5e-4, "{both} there and back");
    assert_eq!(here.factor_to(here).value, Share::ONE);
    Some(())
}

pub(super) fn zero(bytes: &mut Bytes<'_>) -> Option<()> {
    let (samples, limit) = (u32::from(bytes.u8()?), number(bytes)?);
    let made = ZeroCapture::new(samples, Flow::from_bits(limit));
    held(&made, &[("samples", samples < 10), ("spread_limit", limit <= 0)]);
    let Ok(capture) = made else { return Some(()) };
    let (base, wide) = (bytes.i32()?, bytes.u8()? % 24);
    let mut state = ZeroCaptureState::default();
    let seed = bytes.u32()?;
    // Twice, since it starts afresh.
    for round in 0..2_u32 {
        let flows: Vec<_> = (0..samples)
            .map(|n| {
                let mixed = (n + round + 1).wrapping_mul(seed | 1) >> 8;
                base.saturating_add((mixed & ((1 << wide) - 1)) as i32)
            })
            .collect();
        let mut told = None;
        for (n, flow) in flows.iter().enumerate() {
            assert!(told.is_none(), "told early, at {n}");
            told = capture.step(&mut state, Flow::from_bits(*flow));
        }
        let (low, high) = (*flows.iter().min()?, *flows.iter().max()?);
        let moved = (i64::from(high) - i64::from(low)).min(i32::MAX.into());
        let mean = flows.iter().map(|flow| i64::from(*flow)).sum::<i64>() / i64::from(samples);
        let flow = |bits: i64| Flow::from_bits(i32::try_from(bits).unwrap());
        let want = if moved > i64::from(limit) { Err(moved) } else { Ok(flow(mean)) };
        let told = told.expect("enough came");
        assert_eq!(told.map_err(|unsteady: Unsteady| i64::from(unsteady.0.to_bits())), want);
    }
    Some(())
}
