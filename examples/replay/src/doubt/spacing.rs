//! How far apart samples are.

use super::Doubt;
use super::units;
use crate::input::columns::{Columns, Time};
use crate::text::{decimals, length};
use tidevane::quantity::Instant;

/// So many steps tell what is usual in their block; fewer than the least, at the end, tell nothing.
const BLOCK: usize = 4_096;
const LEAST: usize = 100;
/// Steps of a recording of breaths, in seconds; and breaths a minute. Chosen here, no source.
const STEP: [f64; 2] = [0.000_1, 0.25];
const RATE: [f64; 2] = [3.0, 250.0];
/// The monitor hears 50 samples a second and more; with room for jitter.
const SLOW: f64 = 0.021_5;

/// The steps from sample to sample, block by block.
#[derive(Debug, Default)]
pub(super) struct Spacing {
    last: Option<Instant>,
    block: Block,
    /// The usual step of the first block, in seconds.
    usual: Option<f64>,
    all: Blocks,
    /// Those with too few samples a second, and when the first began, in seconds of the recording.
    slow: Blocks,
    slow_from_s: f64,
}

/// A block under way.
#[derive(Debug, Default)]
struct Block {
    from_s: f64,
    /// In microseconds.
    steps: Vec<u64>,
    /// How many came that were not later: rounded times, or none in order, and no unit explains them.
    unordered: usize,
}

impl Block {
    /// The median step in seconds.
    fn usual(&mut self) -> Option<f64> {
        let half = self.steps.len() / 2;
        if self.steps.len() < LEAST || self.unordered >= half {
            return None;
        }
        Some(*self.steps.select_nth_unstable(half).1 as f64 / 1e6)
    }
}

/// How many steps blocks hold, and how long these are where each is as usual: what is missing is no step.
#[derive(Debug, Default, Clone, Copy)]
struct Blocks {
    steps: usize,
    seconds: f64,
}

impl Blocks {
    fn add(&mut self, steps: usize, step: f64) {
        self.steps += steps;
        self.seconds += steps as f64 * step;
    }
}

impl Spacing {
    /// The step to this sample in seconds, where time went on; its time along the recording in seconds.
    pub(super) fn take(&mut self, at: Instant, seconds: f64) -> Option<f64> {
        let last = self.last.replace(at)?;
        if at <= last {
            self.block.unordered += 1;
            return None;
        }
        let step = at.since(last).to_us();
        if self.block.steps.is_empty() {
            self.block.from_s = seconds;
        }
        self.block.steps.push(step);
        if self.block.steps.len() >= BLOCK {
            self.close();
        }
        Some(step as f64 / 1e6)
    }

    /// The block under way ends.
    fn close(&mut self) {
        if let Some(step) = self.block.usual() {
            self.usual.get_or_insert(step);
            let steps = self.block.steps.len();
            self.all.add(steps, step);
            if step > SLOW {
                if self.slow.steps == 0 {
                    self.slow_from_s = self.block.from_s;
                }
                self.slow.add(steps, step);
            }
        }
        self.block.steps.clear();
        self.block.unordered = 0;
    }

    /// The recording ends: what its times tell, of so many seconds and breaths.
    pub(super) fn doubt(
        &mut self,
        seconds: f64,
        breaths: u64,
        columns: Option<&Columns>,
        clock: &dyn Fn(f64) -> String,
    ) -> Option<Doubt> {
        self.close();
        let step = self.usual?;
        let a_minute = 60.0 * breaths as f64 / seconds.max(1e-9);
        let breathes = (RATE[0]..=RATE[1]).contains(&a_minute);
        if breathes && self.slow.steps > 0 {
            return Some(self.too_slow(clock));
        }
        if step >= STEP[0] && (step <= STEP[1] || breathes) || step < STEP[0] && breathes {
            return None;
        }
        let read = match columns.map(|columns| columns.time) {
            Some(Time::Number(column)) => Some(column.factor),
            _ => None,
        };
        let guess = read.and_then(|factor| units::time(step, factor));
        let guess = guess.unwrap_or_else(|| "the unit of time may be another".into());
        let hz = 1.0 / step;
        let rate = if hz < 1.0 { decimals(hz, 3) } else { decimals(hz, 0) };
        Some(Doubt::new(
            format!("time in another unit? {guess}"),
            format!(
                "samples are {} ms apart ({rate} a second), at which no breath can be told: {guess}",
                decimals(step * 1e3, 3)
            ),
        ))
    }

    fn too_slow(&self, clock: &dyn Fn(f64) -> String) -> Doubt {
        let rate = decimals(self.slow.steps as f64 / self.slow.seconds, 0);
        let few = "too few: from 50 on volumes can be told, from 100 on who began an inflation";
        if self.slow.steps == self.all.steps {
            let full = format!("{rate} samples a second are {few}");
            return Doubt::new(format!("{rate} samples a second"), full);
        }
        let part = format!("{} of {}", length(self.slow.seconds), length(self.all.seconds));
        let from = clock(self.slow_from_s);
        Doubt::new(
            format!("{rate} samples a second from {from} on, for {part}"),
            format!("from {from} on, for {part}, {rate} samples a second came: {few}"),
        )
    }
}
