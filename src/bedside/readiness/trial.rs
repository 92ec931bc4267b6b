//! The book of a spontaneous breathing trial: what happened, for how long, and whether the trial's
//! own rule ended it. Whoever watches tells the signs; this crate has neither heart rate nor
//! saturation.
//!
//! A trial lasts three minutes. It fails where the heart is slow (under 100/min) for longer than 15 s
//! (Kamlin 2006, Arch Dis Child Fetal Neonatal Ed 91:F180-183; the rule from memory). It fails there,
//! too, where saturation stays low (under 85 %) although inspired oxygen was raised by 15 points, which
//! nobody tells here.

use crate::quantity::{Duration, Instant};
use core::fmt;

/// How long a trial lasts (Kamlin 2006).
const LASTING: Duration = Duration::from_millis(180_000);
/// A heart that is slow for longer fails it (Kamlin 2006).
const SLOW_HEART: Duration = Duration::from_millis(15_000);

/// What happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum TrialEvent {
    /// The trial begins; a trial that went before is forgotten.
    Begins,
    /// Nothing but time.
    TimePasses,
    /// The heart becomes slow.
    SlowHeartBegins,
    /// The heart is no longer slow.
    SlowHeartEnds,
    /// Saturation becomes low.
    LowSaturationBegins,
    /// Saturation is no longer low.
    LowSaturationEnds,
    /// Nobody, and no monitor, watches from here on.
    WatchLost,
    /// Somebody watches again.
    WatchBack,
    /// Somebody ends the trial.
    Stops,
}

/// What a trial came to. No outcome says that an infant is ready.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[must_use]
pub enum TrialOutcome {
    /// It has not begun.
    #[default]
    NotBegun,
    /// It runs: so much is left. Zero where the time is over and a slow heart is waited for.
    Running(Duration),
    /// It lasted its time, and the heart was not slow for too long. Whether saturation stayed low under more
    /// oxygen is not heard.
    Completed,
    /// It failed: the heart was slow for too long.
    Failed {
        /// When.
        at: Instant,
    },
    /// Somebody stopped it after this time.
    Stopped(Duration),
    /// It lasted its time, and whether it failed cannot be known.
    Unknown(NoTrialOutcome),
}

/// Why nothing can be said at the end of a trial.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum NoTrialOutcome {
    /// Part of it was not watched.
    Unwatched,
    /// An event came with a time before the last one, and was left out.
    OutOfOrder,
}

/// Times of a trial so far, spells that last included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(crate) struct TrialTotals {
    /// Time with a slow heart.
    pub slow_heart: Duration,
    /// Time with low saturation.
    pub low_saturation: Duration,
}

/// A trial under way, or over.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(crate) struct TrialState {
    outcome: TrialOutcome,
    began: Instant,
    now: Instant,
    slow_since: Option<Instant>,
    is_low: bool,
    doubt: Option<NoTrialOutcome>,
    totals: TrialTotals,
}

impl TrialState {
    /// Takes an event. Additions only.
    ///
    /// - An event before the last one is left out, and the trial then ends as
    ///   [`OutOfOrder`](NoTrialOutcome::OutOfOrder) unless it fails or is stopped; time alone that
    ///   comes too early changes nothing. Events of one moment are taken in turn.
    /// - A begin that is told twice stands once.
    /// - A heart that is still slow when the time is over is waited for, until it fails the trial or
    ///   ends.
    /// - What comes at the end of the time or after it is left out; once a trial is over, only
    ///   [`Begins`](TrialEvent::Begins) changes anything.
    pub(crate) fn step(&mut self, at: Instant, event: TrialEvent) {
        if event == TrialEvent::Begins {
            let outcome = TrialOutcome::Running(LASTING);
            *self = Self { outcome, began: at, now: at, ..Self::default() };
            return;
        }
        if !matches!(self.outcome, TrialOutcome::Running(_)) {
            return;
        }
        if at < self.now {
            if event != TrialEvent::TimePasses {
                self.doubt.get_or_insert(NoTrialOutcome::OutOfOrder);
            }
            return;
        }
        self.outcome = self.passed(at);
        if let TrialOutcome::Running(_) = self.outcome {
            self.take(event);
            // A slow heart that ends after the time is over lets the trial end.
            if let TrialOutcome::Running(_) = self.outcome {
                self.outcome = self.passed(at);
            }
        }
    }

    /// What the trial has come to.
    pub(crate) const fn outcome(&self) -> TrialOutcome {
        self.outcome
    }

    /// Times so far.
    pub(crate) const fn totals(&self) -> TrialTotals {
        self.totals
    }

    /// Lets time pass, up to where the trial is over.
    fn passed(&mut self, at: Instant) -> TrialOutcome {
        let end = self.began.after(LASTING);
        if let Some(since) = self.slow_since {
            let fails = since.after(SLOW_HEART);
            if at > fails {
                self.until(fails);
                return TrialOutcome::Failed { at: fails };
            }
        } else if at >= end {
            self.until(end.max(self.now));
            return match self.doubt {
                Some(why) => TrialOutcome::Unknown(why),
                None => TrialOutcome::Completed,
            };
        }
        self.until(at);
        TrialOutcome::Running(end.since(at))
    }

    fn until(&mut self, at: Instant) {
        let span = at.since(self.now);
        let totals = &mut self.totals;
        for (on, total) in [
            (self.slow_since.is_some(), &mut totals.slow_heart),
            (self.is_low, &mut totals.low_saturation),
        ] {
            if on {
                *total = total.saturating_add(span);
            }
        }
        self.now = at;
    }

    fn take(&mut self, event: TrialEvent) {
        match event {
            TrialEvent::Begins | TrialEvent::TimePasses | TrialEvent::WatchBack => {}
            TrialEvent::SlowHeartBegins => {
                self.slow_since.get_or_insert(self.now);
            }
            TrialEvent::SlowHeartEnds => self.slow_since = None,
            TrialEvent::LowSaturationBegins => self.is_low = true,
            TrialEvent::LowSaturationEnds => self.is_low = false,
            TrialEvent::WatchLost => {
                self.doubt.get_or_insert(NoTrialOutcome::Unwatched);
            }
            TrialEvent::Stops => self.outcome = TrialOutcome::Stopped(self.now.since(self.began)),
        }
    }
}

impl fmt::Display for TrialOutcome {
    /// One sentence.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotBegun => f.write_str("not begun"),
            Self::Running(left) => write!(f, "running, {left} left"),
            Self::Completed => {
                f.write_str("lasted its time, and the heart was not slow for too long")
            }
            Self::Failed { .. } => f.write_str("failed: the heart was slow for too long"),
            Self::Stopped(after) => write!(f, "stopped after {after}"),
            Self::Unknown(why) => f.write_str(match why {
                NoTrialOutcome::Unwatched => "cannot be judged: part of it was not watched",
                NoTrialOutcome::OutOfOrder => "cannot be judged: an event came out of order",
            }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use TrialEvent as E;
    use std::string::ToString;

    fn s(seconds: u32) -> Duration {
        Duration::from_millis(seconds * 1_000)
    }

    /// Begins at 100 s; times count from there.
    fn run(events: &[(u32, E)]) -> (TrialOutcome, TrialTotals) {
        let (mut state, begin) = (TrialState::default(), Instant::from_us(100_000_000));
        state.step(begin, E::Begins);
        for &(seconds, event) in events {
            state.step(begin.after(s(seconds)), event);
        }
        (state.outcome(), state.totals())
    }

    #[test]
    fn three_minutes_without_a_fail_event() {
        // Kamlin 2006, Arch Dis Child Fetal Neonatal Ed 91:F180: 3 min; slow heart for 15 s is not
        // longer than 15 s (the rule from memory).
        let events = [
            (20, E::SlowHeartBegins),
            (35, E::SlowHeartEnds),
            (60, E::LowSaturationBegins),
            (90, E::LowSaturationEnds),
            (100, E::SlowHeartBegins),
            (104, E::SlowHeartEnds),
            (120, E::TimePasses),
        ];
        assert_eq!(run(&events).0, TrialOutcome::Running(s(60)));
        let mut all = events.to_vec();
        all.push((200, E::TimePasses));
        let (outcome, totals) = run(&all);
        assert_eq!(outcome, TrialOutcome::Completed);
        let want = TrialTotals {
            slow_heart: s(19), // 15 + 4
            low_saturation: s(30),
        };
        assert_eq!(totals, want);
        // Nothing changes a trial that is over.
        all.extend([(210, E::SlowHeartBegins), (220, E::Stops), (1, E::WatchLost)]);
        assert_eq!(run(&all), (TrialOutcome::Completed, want));
    }

    #[test]
    fn a_slow_heart_for_longer_than_fifteen_seconds_fails() {
        let (outcome, totals) = run(&[(20, E::SlowHeartBegins), (36, E::TimePasses)]);
        let at = Instant::from_us(135_000_000); // 100 + 20 + 15
        assert_eq!(outcome, TrialOutcome::Failed { at });
        assert_eq!(totals.slow_heart, s(15));
        // Told late: it had failed before it ended. A begin told twice stands once.
        let (outcome, _) =
            run(&[(20, E::SlowHeartBegins), (30, E::SlowHeartBegins), (36, E::SlowHeartEnds)]);
        assert_eq!(outcome.to_string(), "failed: the heart was slow for too long");
    }

    #[test]
    fn a_low_saturation_alone_fails_nothing() {
        let low = [(20, E::LowSaturationBegins), (179, E::TimePasses)];
        assert_eq!(run(&low).0, TrialOutcome::Running(s(1)));
        // Still low at the end.
        let (outcome, totals) = run(&[low[0], (300, E::TimePasses)]);
        assert_eq!((outcome, totals.low_saturation), (TrialOutcome::Completed, s(160)));
    }

    #[test]
    fn a_heart_slow_at_the_end_is_waited_for() {
        let slow = (170, E::SlowHeartBegins);
        assert_eq!(run(&[slow, (182, E::TimePasses)]).0, TrialOutcome::Running(Duration::ZERO));
        let (outcome, totals) = run(&[slow, (184, E::SlowHeartEnds)]);
        assert_eq!((outcome, totals.slow_heart), (TrialOutcome::Completed, s(14)));
        let (outcome, _) = run(&[slow, (186, E::SlowHeartEnds)]);
        assert!(matches!(outcome, TrialOutcome::Failed { .. }));
        // At the end itself the trial is over.
        assert_eq!(run(&[(180, E::SlowHeartBegins)]).0, TrialOutcome::Completed);
    }

    #[test]
    fn stopping_is_neither_failing_nor_lasting() {
        let (outcome, _) = run(&[(40, E::TimePasses), (70, E::Stops)]);
        assert_eq!(outcome, TrialOutcome::Stopped(s(70)));
        assert_eq!(outcome.to_string(), "stopped after 70.000 s");
    }

    #[test]
    fn what_was_missed_is_not_judged() {
        let end = (200, E::TimePasses);
        let unknown = |why| TrialOutcome::Unknown(why);
        let (outcome, _) = run(&[(20, E::WatchLost), (30, E::WatchBack), end]);
        assert_eq!(outcome, unknown(NoTrialOutcome::Unwatched));
        let (outcome, _) = run(&[(50, E::TimePasses), (40, E::SlowHeartBegins), end]);
        assert_eq!(outcome, unknown(NoTrialOutcome::OutOfOrder));
        let (outcome, _) = run(&[(50, E::TimePasses), (40, E::TimePasses), end]);
        assert_eq!(outcome, TrialOutcome::Completed);
        // A failure stands all the same.
        let (outcome, _) =
            run(&[(20, E::WatchLost), (30, E::SlowHeartBegins), (50, E::TimePasses)]);
        assert!(matches!(outcome, TrialOutcome::Failed { .. }));
    }

    #[test]
    fn a_trial_begins_and_begins_anew() {
        let mut state = TrialState::default();
        let at = |seconds: u64| Instant::from_us(seconds * 1_000_000);
        state.step(at(5), E::SlowHeartBegins);
        assert_eq!(state.outcome(), TrialOutcome::NotBegun);
        for (seconds, event) in [(10, E::Begins), (20, E::SlowHeartBegins), (40, E::Begins)] {
            state.step(at(seconds), event);
        }
        assert_eq!(state.outcome(), TrialOutcome::Running(s(180)));
        assert_eq!(state.totals(), TrialTotals::default());
    }
}
