//! How long a recording is, whatever its clock did.

use std::collections::VecDeque;
use tidevane::quantity::{Duration, Instant};

/// How many stretches back a moment is looked for.
const REMEMBERED: usize = 16;

/// Time from the first sample, summed over stretches: where the clock goes back none passes, and a
/// silence counts for no more than the cut limit.
#[derive(Debug)]
pub(crate) struct Timeline {
    cut: Duration,
    stretches: VecDeque<Stretch>,
    shortened: bool,
}

/// A piece of the recording on which the clock ran on.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    from: Instant,
    to: Instant,
    /// Time before it.
    before: Duration,
}

impl Stretch {
    fn passed(&self, at: Instant) -> Duration {
        self.before.saturating_add(at.since(self.from))
    }
}

impl Timeline {
    pub(crate) fn new(cut: Duration) -> Self {
        Self { cut, stretches: VecDeque::new(), shortened: false }
    }

    /// Takes the next sample's moment.
    pub(crate) fn reading(&mut self, at: Instant) {
        let before = match self.stretches.back_mut() {
            Some(last) if at >= last.to && at.since(last.to) <= self.cut => {
                last.to = at;
                return;
            }
            Some(last) => {
                self.shortened = true;
                let step = at.since(last.to).min(self.cut);
                last.passed(last.to).saturating_add(step)
            }
            None => Duration::ZERO,
        };
        if self.stretches.len() == REMEMBERED {
            self.stretches.pop_front();
        }
        self.stretches.push_back(Stretch { from: at, to: at, before });
    }

    /// Time up to the last sample, in seconds.
    pub(crate) fn seconds(&self) -> f64 {
        seconds(self.stretches.back().map_or(Duration::ZERO, |last| last.passed(last.to)))
    }

    /// Time up to a moment of late, in seconds.
    pub(crate) fn seconds_at(&self, at: Instant) -> f64 {
        let holds = |s: &&Stretch| s.from <= at && at <= s.to;
        let found = self.stretches.iter().rev().find(holds);
        found.map_or_else(|| self.seconds(), |stretch| seconds(stretch.passed(at)))
    }

    /// Whether a silence was shortened or the clock went back.
    pub(crate) fn is_shortened(&self) -> bool {
        self.shortened
    }

    /// The stretch under way: the time before it in seconds, and the moment it began at.
    pub(crate) fn stretch(&self) -> Option<(f64, Instant)> {
        self.stretches.back().map(|last| (seconds(last.before), last.from))
    }
}

pub(crate) fn seconds(span: Duration) -> f64 {
    span.to_us() as f64 / 1e6
}
