//! Unwraps the hardware's ticks into moments.

use crate::quantity::{Duration, Instant, Tick, arith};
use crate::record;

record! {
    #[const_default]
    /// Follows a wrapping microsecond counter.
    ///
    /// A tick that lies behind the last one (the shorter way round) gives a moment that lies behind
    /// too, so that the gate can refuse it; it does not move the clock. Ticks must come at least every
    /// 35 minutes: over a longer silence a wrapping counter cannot tell how often it went round.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct Clock {
        last: Option<(Tick, Instant)>,
    }
}

impl Clock {
    /// A clock that has seen nothing; its first moment is the first tick's own count.
    #[must_use]
    pub const fn new() -> Self {
        Self { last: None }
    }

    /// The moment of a tick.
    pub const fn unwrap_tick(&mut self, tick: Tick) -> Instant {
        let moment = match self.last {
            None => Instant::from_us(arith::widen_u32(tick.to_us())),
            Some((last, at)) => {
                if tick.is_after(last) {
                    at.after(Duration::from_us(arith::widen_u32(tick.us_since(last))))
                } else {
                    return Instant::from_us(
                        at.to_us().saturating_sub(arith::widen_u32(last.us_since(tick))),
                    );
                }
            }
        };
        self.last = Some((tick, moment));
        moment
    }

    /// The counter was reset: from now on time is counted from this tick and moment.
    pub const fn reset_to(&mut self, tick: Tick, at: Instant) {
        self.last = Some((tick, at));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_wrap_is_invisible() {
        let mut clock = Clock::new();
        let start = clock.unwrap_tick(Tick::from_us(u32::MAX - 4_999));
        let later = clock.unwrap_tick(Tick::from_us(5_000));
        assert_eq!(later.since(start), Duration::from_us(10_000)); // 5 000 to the wrap, 5 000 beyond
    }

    #[test]
    fn a_reset_counter_counts_on() {
        let mut clock = Clock::new();
        let _ = clock.unwrap_tick(Tick::from_us(1_000));
        // 20 minutes behind, before the first moment: clamped to zero, and again.
        let behind = Tick::from_us(1_000_u32.wrapping_sub(1_200_000_000));
        let at = clock.unwrap_tick(behind);
        clock.reset_to(behind, at);
        let next = clock.unwrap_tick(Tick::from_us(behind.to_us().wrapping_add(10_000)));
        assert_eq!(next.since(at), Duration::from_us(10_000));
    }

    #[test]
    fn an_earlier_tick_gives_an_earlier_moment_and_does_not_move_the_clock() {
        let mut clock = Clock::new();
        let a = clock.unwrap_tick(Tick::from_us(50_000));
        let b = clock.unwrap_tick(Tick::from_us(40_000));
        assert_eq!(a.since(b), Duration::from_us(10_000));
        assert_eq!(clock.unwrap_tick(Tick::from_us(60_000)).since(a), Duration::from_us(10_000));
    }
}
