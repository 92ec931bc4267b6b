//! Turns the times of a recording into moments: never negative, and on after a counter's turn.

use tidevane::quantity::Instant;

/// A 32-bit counter of microseconds turns over after this many.
const TURN: i128 = 1 << 32;
/// How far from the time before a turn is looked for: 10 s.
const NEAR: i128 = 10_000_000;

/// What has been seen of the recording's clock.
#[derive(Debug, Default)]
pub(crate) struct Clock {
    shift: i128,
    turned: i128,
    last: Option<i128>,
}

impl Clock {
    /// The moment of a time in microseconds; `None` where it lies before the zero of the recording.
    /// A recording that begins before its own zero is moved to begin at 0.
    pub(crate) fn moment(&mut self, us: i128) -> Option<Instant> {
        if self.last.is_none() {
            self.shift = (-us).max(0);
        }
        let (at, turned) = self.unwrap(us + self.shift);
        let moment = u64::try_from(at).ok().map(Instant::from_us)?;
        self.turned = turned;
        self.last = Some(at);
        Some(moment)
    }

    /// By how many microseconds a recording that begins before zero is moved.
    pub(crate) fn shift(&self) -> Option<i128> {
        (self.shift > 0).then_some(self.shift)
    }

    /// The time with the turns counted, and these.
    fn unwrap(&self, us: i128) -> (i128, i128) {
        let at = us + self.turned;
        let Some(last) = self.last else { return (at, 0) };
        if at < last && at + TURN > last && at + TURN - last <= NEAR {
            return (at + TURN, self.turned + TURN);
        }
        // A straggler from before the turn.
        if self.turned > 0 && (at - TURN - last).abs() <= NEAR {
            return (at - TURN, self.turned);
        }
        (at, self.turned)
    }
}
