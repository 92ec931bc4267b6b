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

const QUIET_RANGE: Flow = Flow::from_int(4);
const QUIET_ENOUGH: Duration = Duration::from_millis(600);
const QUIET_GUESS: Duration = Duration::from_millis(40);
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
