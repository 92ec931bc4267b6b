//! How far apart samples are.

use super::Doubt;
use super::units;
use crate::input::columns::{Columns, Time};
use crate::text::decimals;
use tidevane::quantity::Instant;

/// So many steps tell what is usual.
const STEPS: usize = 4_096;
/// Steps of a recording of breaths, in seconds; and breaths a minute. Chosen here, no source.
const STEP: [f64; 2] = [0.000_1, 0.25];
const RATE: [f64; 2] = [3.0, 250.0];
/// The monitor hears 50 samples a second and more; with room for jitter.
const SLOW: f64 = 0.021_5;

/// The first steps from sample to sample.
#[derive(Debug, Default)]
pub(super) struct Spacing {
    last: Option<Instant>,
    steps: Vec<f64>,
    /// How many came that were not later: rounded times, or none in order, and no unit explains them.
    unordered: usize,
}

impl Spacing {
    /// The step to this sample in seconds, where time went on.
    pub(super) fn take(&mut self, at: Instant) -> Option<f64> {
        let last = self.last.replace(at)?;
        if at <= last {
            self.unordered += 1;
            return None;
        }
        let step = at.since(last).to_us() as f64 / 1e6;
        if self.steps.len() < STEPS {
            self.steps.push(step);
        }
        Some(step)
    }

    pub(super) fn doubt(
        &self,
        seconds: f64,
        breaths: u64,
        columns: Option<&Columns>,
    ) -> Option<Doubt> {
        let mut steps = self.steps.clone();
        steps.sort_by(f64::total_cmp);
        let step = *steps
            .get(steps.len() / 2)
            .filter(|_| steps.len() >= 100 && self.unordered < steps.len() / 2)?;
        let a_minute = 60.0 * breaths as f64 / seconds.max(1e-9);
        let breathes = (RATE[0]..=RATE[1]).contains(&a_minute);
        if breathes && step > SLOW {
            return Some(too_slow(1.0 / step));
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
}

fn too_slow(hz: f64) -> Doubt {
    let rate = decimals(hz, 0);
    Doubt::new(
        format!("{rate} samples a second"),
        format!(
            "{rate} samples a second are too few: from 50 on volumes can be told, from 100 on who began an inflation"
        ),
    )
}
