//! What became of each effort.

use crate::control::Command;
use crate::effort::Pulse;
use crate::ledger::Found;
use crate::time::micros;
use crate::truth::{Cause, Outcome, TruthEffort};

/// How long after an effort its consequences may still show, s, beyond the trigger delay.
const AFTERMATH: f64 = 0.05;

#[derive(Debug, Clone, Copy)]
struct Watch {
    pulse: Pulse,
    during: bool,
    triggered: bool,
    own: bool,
    timed: bool,
}

impl Watch {
    fn finish(&self) -> TruthEffort {
        TruthEffort {
            start_us: micros(self.pulse.start),
            peak_us: micros(self.pulse.peak()),
            end_us: micros(self.pulse.end()),
            amplitude: self.pulse.amplitude,
            hiccup: self.pulse.hiccup,
            outcome: if self.triggered {
                Outcome::Triggered
            } else if self.timed {
                Outcome::InTimedInflation
            } else if self.own {
                Outcome::OwnBreath
            } else if self.during {
                Outcome::DuringInflation
            } else {
                Outcome::Missed
            },
        }
    }
}

/// Follows the latest effort until nothing more can come of it.
#[derive(Debug, Clone)]
pub(crate) struct Outcomes {
    patience: f64,
    watch: Option<Watch>,
}

impl Outcomes {
    pub(crate) fn new(trigger_delay: f64) -> Self {
        Self { patience: trigger_delay + AFTERMATH, watch: None }
    }

    /// A new effort; the one before it is over.
    pub(crate) fn begin(&mut self, pulse: Pulse, inflating: bool) -> Option<TruthEffort> {
        let (triggered, own, timed) = (false, false, false);
        let next = Watch { pulse, during: inflating, triggered, own, timed };
        self.watch.replace(next).map(|w| w.finish())
    }

    pub(crate) fn command(&mut self, now: f64, command: Command) {
        let Some(watch) = &mut self.watch else { return };
        match command.cause {
            Cause::Effort if command.full => watch.triggered = true,
            Cause::Effort => watch.own = true,
            Cause::Timed => watch.timed |= now < watch.pulse.end(),
            Cause::SelfLeak | Cause::SelfRipple | Cause::SelfWater => {
                watch.during |= now < watch.pulse.end();
            }
        }
    }

    pub(crate) fn breath(&mut self, found: &Found) {
        let Some(watch) = &mut self.watch else { return };
        let within = found.onset >= watch.pulse.start && found.onset < watch.pulse.end();
        watch.own |= within && !found.commanded;
    }

    pub(crate) fn step(&mut self, now: f64) -> Option<TruthEffort> {
        let over = self.watch.is_some_and(|w| now >= w.pulse.end() + self.patience);
        if over { self.watch.take().map(|w| w.finish()) } else { None }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn outcome(during: bool, events: &[(f64, Cause, bool)], own: bool) -> Outcome {
        let mut outcomes = Outcomes::new(0.02);
        let pulse = Pulse { start: 1.0, duration: 0.4, amplitude: 3.0, hiccup: true };
        assert!(outcomes.begin(pulse, during).is_none());
        for (at, cause, full) in events {
            outcomes.command(*at, Command { cause: *cause, full: *full });
        }
        if own {
            outcomes.breath(&Found { onset: 1.05, commanded: false, closed: None });
        }
        assert!(outcomes.step(1.4).is_none());
        let effort = outcomes.step(1.5).unwrap();
        assert_eq!(effort.peak_us, 1_248_000); // 62 % of 0.4 s
        assert!(effort.hiccup);
        effort.outcome
    }

    #[test]
    fn outcomes_follow_from_what_happened() {
        // Derived here: one case for each definition and each rank between two.
        assert_eq!(outcome(false, &[], false), Outcome::Missed);
        assert_eq!(outcome(true, &[], false), Outcome::DuringInflation);
        assert_eq!(outcome(false, &[], true), Outcome::OwnBreath);
        assert_eq!(outcome(false, &[(1.1, Cause::Effort, true)], true), Outcome::Triggered);
        assert_eq!(outcome(false, &[(1.1, Cause::Effort, false)], false), Outcome::OwnBreath);
        assert_eq!(outcome(false, &[(1.1, Cause::Timed, true)], true), Outcome::InTimedInflation);
        assert_eq!(outcome(false, &[(1.45, Cause::Timed, true)], false), Outcome::Missed);
        let leak = [(1.1, Cause::SelfLeak, true)];
        assert_eq!(outcome(false, &leak, false), Outcome::DuringInflation);
        assert_eq!(outcome(true, &[(1.3, Cause::Effort, true)], false), Outcome::Triggered);
    }

    #[test]
    fn a_breath_before_the_effort_is_not_its_own() {
        let mut outcomes = Outcomes::new(0.02);
        outcomes.begin(Pulse { start: 1.0, duration: 0.4, amplitude: 3.0, hiccup: false }, false);
        outcomes.breath(&Found { onset: 0.99, commanded: false, closed: None });
        outcomes.breath(&Found { onset: 1.2, commanded: true, closed: None });
        outcomes.breath(&Found { onset: 1.41, commanded: false, closed: None });
        assert_eq!(outcomes.step(1.5).map(|e| e.outcome), Some(Outcome::Missed));
    }
}
