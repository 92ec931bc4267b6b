//! Each way in which a sensor or its clock can fail, after a minute of breathing, and what rings.

use core::fmt::{self, Write};
use tidevane::alarm::{Change, Condition};
use tidevane::monitor::{EventKind, Monitor, Report, Settings};
use tidevane::quantity::{Flow, Pressure, Tick};
use tidevane::signal::Sample;

/// 100 samples a second.
const STEP_US: u32 = 10_000;
/// Steps of breathing before it fails, and after that.
const BREATHING: u32 = 6_000;
const FAILING: u32 = 3_000;

/// One failure, at a step.
type Failure = fn(&mut Monitor, u32) -> Report;

/// What the failures are called.
const FAILURES: [(&str, Failure); 12] = [
    ("flow out of range", |m, n| m.push(sample(n, Flow::from_int(6_000), five()))),
    ("pressure out of range", |m, n| m.push(sample(n, Flow::ZERO, Pressure::from_int(300)))),
    ("lost on every sample", |m, _| m.lost()),
    ("a tick that stands still", |m, n| {
        m.push(Sample { tick: tick(BREATHING.wrapping_sub(1)), ..breath(n) })
    }),
    ("a tick that counts down", |m, n| {
        m.push(Sample { tick: tick((2 * BREATHING).wrapping_sub(n)), ..breath(n) })
    }),
    ("readings that do not change", |m, n| m.push(sample(n, Flow::from_int(3), five()))),
    ("a timer alone", |m, n| m.tick(tick(n))),
    ("a sample every 1.1 s, and a timer", |m, n| {
        if n.is_multiple_of(110) { m.push(breath(n)) } else { m.tick(tick(n)) }
    }),
    ("no breath, and a clock that began anew", |m, n| {
        m.push(Sample { tick: tick(n.wrapping_sub(BREATHING)), ..rest(n) })
    }),
    ("no breath", |m, n| m.push(rest(n))),
    ("every second sample lost, no breath", |m, n| {
        if n.is_multiple_of(2) { m.lost() } else { m.push(rest(n)) }
    }),
    ("an open circuit", |m, n| {
        let noise = Flow::from_bits(i32::from((n % 7) as u8) << 12);
        m.push(sample(n, Flow::from_int(70).saturating_add(noise).value, Pressure::ZERO))
    }),
];

fn five() -> Pressure {
    Pressure::from_int(5)
}

fn tick(n: u32) -> Tick {
    Tick::from_us(n.wrapping_mul(STEP_US))
}

fn sample(n: u32, flow: Flow, pressure: Pressure) -> Sample {
    Sample { tick: tick(n), flow, pressure }
}

/// A breath of 9 mL a second, in straight lines, with noise.
fn breath(n: u32) -> Sample {
    let place = i32::from((n % 100) as u8);
    let flow = match place {
        0..15 => place * 4,
        15..30 => 120 - place * 4,
        30..45 => 120 - place * 4,
        45..60 => place * 4 - 240,
        _ => 0,
    };
    let noise = i32::from((n % 3) as u8) << 12;
    let flow = Flow::from_bits((flow << 16) + noise);
    let pressure = if place < 30 { Pressure::from_int(15) } else { five() };
    sample(n, flow, pressure.saturating_add(Pressure::from_bits(noise)).value)
}

/// Noise and no breath.
fn rest(n: u32) -> Sample {
    let noise = i32::from((n % 3) as u8) << 12;
    sample(n, Flow::from_bits(noise), five().saturating_add(Pressure::from_bits(noise)).value)
}

/// Writes a line for each failure: what rang, each after how many hundredths of a second.
///
/// # Errors
/// What `out` says when it cannot be written.
pub fn run(out: &mut impl Write) -> fmt::Result {
    for (name, fail) in FAILURES {
        let mut monitor = Monitor::new(Settings::default());
        for n in 0..BREATHING {
            let _ = monitor.push(breath(n));
        }
        write!(out, "{name}:")?;
        for n in BREATHING..BREATHING + FAILING {
            for event in &fail(&mut monitor, n).events {
                if let EventKind::Alarm(alarm) = event.what
                    && alarm.change == Change::On
                {
                    ring(out, alarm.condition, n - BREATHING)?;
                }
            }
        }
        writeln!(out)?;
    }
    Ok(())
}

fn ring(out: &mut impl Write, condition: Condition, hundredths: u32) -> fmt::Result {
    write!(out, " {condition} {}.{:02} s;", hundredths / 100, hundredths % 100)
}
