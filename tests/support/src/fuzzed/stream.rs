//! A stream of samples out of bytes, made so that a short input reaches deep.
//!
//! Four bytes of head: settings, sampling period, upper byte of the first tick, where to clone.
//! Then six bytes an entry: what it is, a number, and two 16-bit numbers, flow (1/8 mL/s) and
//! pressure (1/128 cmH2O) in most.

use super::bytes::Bytes;
use super::setup::{Setup, setup};
use tidevane::alarm::VitalSigns;
use tidevane::quantity::{Flow, Pressure};
use tidevane::signal::Reading;

/// What comes next.
#[derive(Debug, Clone, Copy)]
pub enum Input {
    /// A reading, this many microseconds after the one before (round the counter).
    Reading(u32, Reading),
    /// A sample was lost.
    Lost,
    /// A timer tells the time, this many microseconds after the last reading or tick (round the counter).
    Tick(u32),
    /// The counter began anew at this tick, as behind a reset.
    Resumed(u32),
    /// To the settings of this number.
    Changed(u8),
    /// Somebody asks what can be asked, which changes nothing.
    Asked,
    /// What another monitor shows.
    Signs(VitalSigns),
    /// The recording ends, and may go on.
    Finish,
}

/// A whole input.
#[derive(Debug)]
pub struct Stream {
    /// The settings it begins with.
    pub setup: Setup,
    /// The tick that the first wait counts from.
    pub first_tick: u32,
    /// Where a clone is taken.
    pub split: usize,
    /// What comes in, in order.
    pub inputs: Vec<Input>,
}

/// More are not made of one input.
const MOST: usize = 6_000;

/// The stream of an input; `None` without a whole head.
#[must_use]
pub fn decode(data: &[u8]) -> Option<Stream> {
    let mut bytes = Bytes(data);
    let setup = setup(bytes.u8()?);
    let period = [10_000, 1_000, 2_500, 5_000, 20_000][usize::from(bytes.u8()? % 5)];
    let first_tick = u32::from(bytes.u8()?) << 24;
    let split = usize::from(bytes.u8()?) * 16;
    let mut stream = Stream { setup, first_tick, split, inputs: Vec::new() };
    while stream.count() < MOST
        && let Some((what, number, flow, pressure)) = entry(&mut bytes)
    {
        stream.add(period, what, number, flow, pressure);
    }
    let mut count = 0;
    stream.inputs.retain(|input| {
        count += usize::from(!matches!(input, Input::Asked));
        count <= MOST
    });
    Some(stream)
}

fn entry(bytes: &mut Bytes<'_>) -> Option<(u8, u8, i16, i16)> {
    Some((bytes.u8()?, bytes.u8()?, bytes.i16()?, bytes.i16()?))
}

fn reading(flow: i16, pressure: i16) -> Reading {
    Reading {
        flow: Flow::from_bits(i32::from(flow) << 13),
        pressure: Pressure::from_bits(i32::from(pressure) << 9),
    }
}

impl Stream {
    /// How much comes in: a question is nothing.
    fn count(&self) -> usize {
        self.inputs.iter().filter(|input| !matches!(input, Input::Asked)).count()
    }

    fn add(&mut self, period: u32, what: u8, number: u8, flow: i16, pressure: i16) {
        let n = u32::from(number);
        let here = reading(flow, pressure);
        let raw = i32::from_le_bytes([
            flow.to_le_bytes()[0],
            flow.to_le_bytes()[1],
            pressure.to_le_bytes()[0],
            pressure.to_le_bytes()[1],
        ]);
        // In what has no use for its numbers they tell whether somebody asks before it.
        if matches!((what, number % 2, pressure % 2), (184..=187, 1, _) | (198..=201, _, 1)) {
            self.inputs.push(Input::Asked);
        }
        let one = match what {
            0..=127 => Input::Reading(period, here),
            128..=159 => Input::Reading(n * n * 100, here),
            160..=167 => Input::Reading((n * 1_000).wrapping_neg(), here),
            168..=175 => Input::Reading(
                period,
                Reading { flow: Flow::from_bits(raw), pressure: Pressure::from_int(5) },
            ),
            176..=183 => Input::Reading(
                period,
                Reading { flow: Flow::ZERO, pressure: Pressure::from_bits(raw) },
            ),
            184..=187 => Input::Lost,
            // To 16 s; back by as much where the second number is below zero.
            188..=189 => {
                let wait = n * n * 250;
                Input::Tick(if pressure < 0 { wait.wrapping_neg() } else { wait })
            }
            190..=191 => Input::Resumed(n << 24),
            192..=197 => Input::Changed(number),
            198..=201 => Input::Signs(VitalSigns {
                heart_rate: (number > 9).then_some(number.into()),
                saturation: u8::try_from(flow).ok(),
            }),
            202..=205 => Input::Finish,
            206..=229 => return self.breath(period, n + 8, flow, pressure),
            230..=247 => {
                for _ in 0..=number % 32 {
                    self.breath(period, 600_000 / period, flow, pressure);
                }
                return;
            }
            248..=255 => {
                // Held, with a ripple of one step where the number is odd.
                let ripple = i16::from(number % 2 == 1);
                for i in 0..u16::from(number) {
                    let off = if i % 2 == 0 { ripple } else { 0 };
                    let held = reading(flow.saturating_add(off), pressure);
                    self.inputs.push(Input::Reading(period, held));
                }
                return;
            }
        };
        self.inputs.push(one);
    }

    /// A breath of `n` samples over a baseline of 5 cmH2O: a third in, a third out, a third quiet.
    fn breath(&mut self, period: u32, n: u32, peak: i16, rise: i16) {
        let third = i64::from((n / 3).max(1));
        let rise = rise / 8;
        for i in 0..i64::from(n) {
            let (part, x) = (i / third, i % third);
            // A parabola through zero at both ends.
            let size = i64::from(peak / 8) * 4 * x * (third - x) / (third * third);
            let flow = match part {
                0 => size,
                1 => -size,
                _ => i % 2,
            };
            let flow = i16::try_from(flow).unwrap_or(i16::MAX);
            let up = if part == 0 { rise } else { 0 };
            let pressure = up.saturating_add(5 * 128 + i16::try_from(i % 2).unwrap_or(0));
            self.inputs.push(Input::Reading(period, reading(flow, pressure)));
        }
    }
}
