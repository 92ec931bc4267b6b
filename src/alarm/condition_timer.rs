//! The machine behind every alarm: a condition that lasts becomes an alarm.

use crate::quantity::{Duration, Instant};
use crate::record;

record! {
    /// An alarm began or ended.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum Change {
        /// It rings from now on.
        On = 0,
        /// It has stopped.
        Off = 1,
    }
}

/// How long a condition must last, and whether its alarm outlives it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct Rule {
    pub(super) delay: Duration,
    pub(super) latching: bool,
}

impl Rule {
    /// Rings at once and stops with its condition.
    pub(super) const AT_ONCE: Self = Self { delay: Duration::ZERO, latching: false };

    pub(super) const fn at_once(latching: bool) -> Self {
        Self { delay: Duration::ZERO, latching }
    }
}

record! {
    #[const_default]
    /// One condition under watch.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct ConditionTimer {
        phase: Phase,
        acknowledged: bool,
    }
}

record! {
    #[const_default(Quiet)]
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    enum Phase {
        Quiet = 0,
        Pending(Instant) = 1,
        On = 2,
        /// Its condition is over; a latching alarm waits to be acknowledged.
        Held = 3,
    }
}

impl ConditionTimer {
    pub(super) const fn is_on(&self) -> bool {
        matches!(self.phase, Phase::On | Phase::Held)
    }

    /// Whoever is responsible has seen it.
    pub(super) const fn acknowledge(&mut self) {
        self.acknowledged = self.is_on();
    }

    /// For so long it cannot be known: an alarm stays as it is, a wait stands still.
    pub(super) const fn pause(&mut self, span: Duration) {
        if let Phase::Pending(since) = self.phase {
            self.phase = Phase::Pending(since.after(span));
        }
    }

    pub(super) fn step(&mut self, at: Instant, present: bool, rule: Rule) -> Option<Change> {
        match (self.phase, present) {
            (Phase::Quiet, true) => self.wait(at, at, rule),
            (Phase::Pending(since), true) => self.wait(since, at, rule),
            (Phase::On | Phase::Held, true) => {
                self.phase = Phase::On;
                None
            }
            (Phase::Quiet | Phase::Pending(_), false) => {
                self.phase = Phase::Quiet;
                None
            }
            (Phase::On | Phase::Held, false) if rule.latching && !self.acknowledged => {
                self.phase = Phase::Held;
                None
            }
            (Phase::On | Phase::Held, false) => {
                *self = Self::default();
                Some(Change::Off)
            }
        }
    }

    fn wait(&mut self, since: Instant, at: Instant, rule: Rule) -> Option<Change> {
        if at.since(since) < rule.delay {
            self.phase = Phase::Pending(since);
            return None;
        }
        self.phase = Phase::On;
        Some(Change::On)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(ms: u64) -> Instant {
        Instant::from_us(ms * 1_000)
    }

    #[test]
    fn a_latching_alarm_waits_to_be_acknowledged() {
        let rule = Rule { delay: Duration::from_millis(100), latching: true };
        let mut watch = ConditionTimer::default();
        assert_eq!(watch.step(at(0), true, rule), None);
        assert_eq!(watch.step(at(99), true, rule), None);
        assert_eq!(watch.step(at(100), true, rule), Some(Change::On));
        assert_eq!(watch.step(at(110), false, rule), None);
        assert!(watch.is_on());
        watch.acknowledge();
        assert_eq!(watch.step(at(120), false, rule), Some(Change::Off));
        assert_eq!(watch, ConditionTimer::default());
    }

    #[test]
    fn acknowledged_while_it_lasts_it_ends_with_its_condition() {
        let rule = Rule::at_once(true);
        let mut watch = ConditionTimer::default();
        assert_eq!(watch.step(at(0), true, rule), Some(Change::On));
        watch.acknowledge();
        assert_eq!(watch.step(at(1), true, rule), None);
        assert_eq!(watch.step(at(2), false, rule), Some(Change::Off));
        // An acknowledgement does not reach the next alarm.
        watch.acknowledge();
        assert_eq!(watch.step(at(3), true, rule), Some(Change::On));
        assert_eq!(watch.step(at(4), false, rule), None);
    }

    #[test]
    fn what_cannot_be_known_does_not_count() {
        let rule = Rule { delay: Duration::from_millis(100), latching: false };
        let mut watch = ConditionTimer::default();
        assert_eq!(watch.step(at(0), true, rule), None);
        watch.pause(Duration::from_millis(40));
        // 139 − 40 = 99 ms waited, then 100.
        assert_eq!(watch.step(at(139), true, rule), None);
        assert_eq!(watch.step(at(140), true, rule), Some(Change::On));
        watch.pause(Duration::from_millis(40));
        assert!(watch.is_on());
    }
}
