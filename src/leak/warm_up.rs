//! A first guess of the leak, before the first breath is closed.

use crate::breath::{PhaseIntegrals, Totals};
use crate::quantity::{Duration, Flow};
use crate::record;
use crate::signal::Interval;

record! {
    #[const_default]
    /// Watches the beginning of a recording.
    ///
    /// As long as the flow keeps within 4 mL/s nobody breathes yet, so all that flows is leak, and the
    /// leak path may guess from it at once. Else, where no breath was closed for three seconds, the
    /// mean of all since the start serves: a wrong guess must not keep breaths from being found.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct LeakWarmUp {
        bounds: Option<(Flow, Flow)>,
        totals: Totals,
        next_guess: Duration,
        moved: bool,
    }
}

/// What the beginning allows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[doc(hidden)]
pub enum WarmUpOutcome {
    /// Nobody breathes yet: a guess from these sums.
    Quiet(PhaseIntegrals),
    /// No breath was closed for long: a guess from these sums.
    Late(PhaseIntegrals),
    /// Nothing to do.
    Wait,
    /// It moved before there was quiet enough: any guess so far is void.
    Void,
}

/// A flow that ranges over no more is quiet. Chosen here, no source, as are those below.
const QUIET_RANGE: Flow = Flow::from_int(4);
/// After so long a quiet its guess stands though it moves.
const QUIET_ENOUGH: Duration = Duration::from_millis(600);
/// From one guess to the next while it is quiet.
const QUIET_GUESS: Duration = Duration::from_millis(40);
/// Once it moved: without a breath for so long a guess, and from that to the next.
const LATE: Duration = Duration::from_millis(3_000);
const LATE_GUESS: Duration = Duration::from_millis(1_000);

impl LeakWarmUp {
    /// Takes an interval: four wide multiplies. To be called until the first breath has taught.
    pub fn step(&mut self, interval: &Interval) -> WarmUpOutcome {
        if interval.flags.is_empty() {
            self.totals.add(interval);
        }
        let sums = self.totals.since(&Totals::default());
        if !self.moved && self.moves(interval) {
            self.moved = true;
            self.next_guess = LATE;
            return if sums.span() < QUIET_ENOUGH {
                WarmUpOutcome::Void
            } else {
                WarmUpOutcome::Wait
            };
        }
        if sums.span() < self.next_guess {
            return WarmUpOutcome::Wait;
        }
        let (every, settled) = if self.moved {
            (LATE_GUESS, WarmUpOutcome::Late(sums))
        } else {
            (QUIET_GUESS, WarmUpOutcome::Quiet(sums))
        };
        self.next_guess = sums.span().saturating_add(every);
        settled
    }

    fn moves(&mut self, interval: &Interval) -> bool {
        let flow = interval.to.flow;
        let (low, high) = self.bounds.unwrap_or((interval.from.flow, interval.from.flow));
        let (low, high) = (low.min(flow), high.max(flow));
        self.bounds = Some((low, high));
        !interval.flags.is_empty() || high.saturating_sub(low).value > QUIET_RANGE
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Instant;
    use crate::signal::{End, Flags};

    /// An interval of so many ms up to a moment, from one flow to another.
    fn interval(at_ms: u64, millis: u32, flows: [Flow; 2]) -> Interval {
        let [from, to] = flows.map(|flow| End { flow, lung: flow, ..End::default() });
        let (at, span) = (Instant::from_us(at_ms * 1_000), Duration::from_millis(millis));
        Interval { at, span, from, to, ..Interval::default() }
    }

    /// After a quiet of so many ms the flow reaches `high`.
    fn after(quiet_ms: u32, high: Flow) -> WarmUpOutcome {
        let mut warm_up = LeakWarmUp::default();
        let still = [Flow::from_int(1); 2];
        let _ = warm_up.step(&interval(quiet_ms.into(), quiet_ms, still));
        warm_up.step(&interval(u64::from(quiet_ms) + 10, 10, [Flow::from_int(1), high]))
    }

    #[test]
    fn a_flow_that_keeps_within_four_ml_a_second_is_quiet() {
        let bit = Flow::STEP;
        assert!(matches!(after(100, Flow::from_int(5)), WarmUpOutcome::Wait));
        assert_eq!(after(100, Flow::from_int(5).saturating_add(bit).value), WarmUpOutcome::Void);
        // 40 ms after the last guess the next is made.
        assert!(matches!(after(40, Flow::from_int(5)), WarmUpOutcome::Wait));
        let mut warm_up = LeakWarmUp::default();
        let still = [Flow::from_int(1), Flow::from_int(5)];
        let told = [10, 20, 30, 40, 50, 60]
            .map(|at| matches!(warm_up.step(&interval(at, 10, still)), WarmUpOutcome::Quiet(_)));
        assert_eq!(told, [true, false, false, false, true, false]);
    }

    #[test]
    fn a_guess_stands_after_six_tenths_of_a_second_of_quiet() {
        // The interval that moves counts: 590 and 10 ms are enough, 589 are not.
        let far = Flow::from_int(20);
        assert_eq!((after(590, far), after(589, far)), (WarmUpOutcome::Wait, WarmUpOutcome::Void));
    }

    #[test]
    fn where_no_breath_is_found_the_mean_serves_from_three_seconds_on() {
        let mut warm_up = LeakWarmUp::default();
        let moving = [Flow::from_int(-20), Flow::from_int(20)];
        let late: std::vec::Vec<u64> = (1..=60)
            .map(|i| i * 100)
            .filter(|at| {
                matches!(warm_up.step(&interval(*at, 100, moving)), WarmUpOutcome::Late(_))
            })
            .collect();
        assert_eq!(late, [3_000, 4_000, 5_000, 6_000]);
        // What is flagged moves, and counts for no time.
        let mut warm_up = LeakWarmUp::default();
        let still = interval(100, 100, [Flow::from_int(1); 2]);
        let flagged = Interval { flags: Flags::GAP, ..still };
        assert_eq!(warm_up.step(&flagged), WarmUpOutcome::Void);
        assert_eq!(warm_up.totals, Totals::default());
    }
}
