//! A first guess of the leak from a quiet beginning.

use crate::breath::Sums;
use crate::quantity::{Flow, Span};
use crate::signal::Step;

/// Watches the beginning of a recording. As long as the flow keeps within 4 mL/s nobody breathes
/// yet, so all that flows is leak, and the leak path may guess from it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Settling {
    bounds: Option<(Flow, Flow)>,
    sums: Sums,
    next_guess: Span,
    over: bool,
}

/// What the beginning allows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Settled {
    /// Quiet: time for a guess from these sums.
    Guess(Sums),
    /// Nothing to do.
    Wait,
    /// It moved before 200 ms of quiet were seen: any guess so far is void.
    Void,
}

const QUIET_RANGE: Flow = Flow::from_int(4);
const GUESS_EVERY: Span = Span::from_millis(40);
const ENOUGH: Span = Span::from_millis(200);

impl Settling {
    /// Takes an interval; compares and additions, and three wide multiplies while it is quiet.
    pub fn step(
        &mut self,
        step: &Step,
        from: crate::breath::Corrected,
        to: crate::breath::Corrected,
    ) -> Settled {
        if self.over {
            return Settled::Wait;
        }
        let flow = step.to.flow;
        let (low, high) = self.bounds.unwrap_or((step.from.flow, step.from.flow));
        let (low, high) = (low.min(flow), high.max(flow));
        if !step.flags.is_clear() || high.saturating_sub(low).value > QUIET_RANGE {
            self.over = true;
            return if self.sums.span() < ENOUGH { Settled::Void } else { Settled::Wait };
        }
        self.bounds = Some((low, high));
        self.sums.add_step(step, from, to);
        if self.sums.span() < self.next_guess {
            return Settled::Wait;
        }
        self.next_guess = self.sums.span().saturating_add(GUESS_EVERY);
        Settled::Guess(self.sums)
    }
}
