//! The book of a spontaneous breathing trial: what happened, for how long, and whether the trial's
//! own rule ended it. Whoever watches tells the events; this crate has neither heart rate nor
//! saturation.

use crate::quantity::{Duration, Instant, SettingError};
use core::fmt;

/// How long a trial lasts, and what fails it.
///
/// It fails where the heart is slow (under 100/min) for longer than a limit, or where saturation
/// stays low (under 85 %) although inspired oxygen was raised by 15 points (Kamlin 2006, Arch Dis
/// Child Fetal Neonatal Ed 91:F180-183; the rule from memory). Apnoea that needed stimulation is
/// counted, as in Shalish 2020, JAMA Pediatr 174:178-185, and fails nothing by this rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct BreathingTrial {
    lasting: Duration,
    slow_heart: Duration,
}

/// What happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum TrialEvent {
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
    /// Saturation stays low although oxygen was raised: the trial fails.
    LowDespiteOxygen,
    /// Apnoea needed stimulation.
    Stimulated,
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
    /// It lasted its time without an event that fails it.
    Completed,
    /// It failed.
    Failed {
        /// By what.
        why: FailReason,
        /// When.
        at: Instant,
    },
    /// Somebody stopped it after this time.
    Stopped(Duration),
    /// It lasted its time, and whether it failed cannot be known.
    Unknown(NoTrialOutcome),
}

/// What failed a trial.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum FailReason {
    /// The heart was slow for too long.
    SlowHeart,
    /// Saturation stayed low although oxygen was raised.
    LowDespiteOxygen,
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
    /// Something ended that had not begun, so its begin was missed.
    BeginMissed,
}

/// Times and counts of a trial so far, spells that last included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TrialTotals {
    /// Time since the trial began.
    pub lasted: Duration,
    /// Time with a slow heart.
    pub slow_heart: Duration,
    /// Time with low saturation.
    pub low_saturation: Duration,
    /// Apnoeas that needed stimulation.
    pub stimulations: u32,
    /// Time that nobody watched.
    pub unwatched: Duration,
}

/// A trial under way, or over.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TrialState {
    outcome: TrialOutcome,
    began: Instant,
    now: Instant,
    slow_since: Option<Instant>,
    is_low: bool,
    is_unwatched: bool,
    doubt: Option<NoTrialOutcome>,
    totals: TrialTotals,
}

impl Default for BreathingTrial {
    /// Three minutes, and 15 s of slow heart (Kamlin 2006).
    fn default() -> Self {
        Self { lasting: Duration::from_millis(180_000), slow_heart: Duration::from_millis(15_000) }
    }
}

impl BreathingTrial {
    /// A trial of 1 minute to 2 hours that fails after more than 1 to 60 s of slow heart.
    ///
    /// # Errors
    /// Names the parameter outside its range.
    pub fn new(lasting: Duration, slow_heart: Duration) -> Result<Self, SettingError> {
        let seconds = |count: u32| Duration::from_millis(count.saturating_mul(1_000));
        SettingError::within("lasting", lasting, seconds(60), seconds(7_200))?;
        SettingError::within("slow_heart", slow_heart, seconds(1), seconds(60))?;
        Ok(Self { lasting, slow_heart })
    }

    /// Takes an event and gives what the trial has come to. Additions only.
    ///
    /// - An event before the last one is left out, and the trial then ends as
    ///   [`OutOfOrder`](NoTrialOutcome::OutOfOrder) unless it fails or is stopped; time alone that
    ///   comes too early changes nothing. Events of one moment are taken in turn.
    /// - A begin that is told twice stands once.
    /// - A heart that is still slow when the time is over is waited for, until it fails the trial or
    ///   ends.
    /// - What comes at the end of the time or after it is left out; once a trial is over, only
    ///   [`Begins`](TrialEvent::Begins) changes anything.
    pub fn step(&self, state: &mut TrialState, at: Instant, event: TrialEvent) -> TrialOutcome {
        if event == TrialEvent::Begins {
            let outcome = TrialOutcome::Running(self.lasting);
            *state = TrialState { outcome, began: at, now: at, ..TrialState::default() };
            return outcome;
        }
        if !matches!(state.outcome, TrialOutcome::Running(_)) {
            return state.outcome;
        }
        if at < state.now {
            if event != TrialEvent::TimePasses {
                state.doubt.get_or_insert(NoTrialOutcome::OutOfOrder);
            }
            return state.outcome;
        }
        state.outcome = self.passed(state, at);
        if let TrialOutcome::Running(_) = state.outcome {
            state.take(event);
            // A slow heart that ends after the time is over lets the trial end.
            if let TrialOutcome::Running(_) = state.outcome {
                state.outcome = self.passed(state, at);
            }
        }
        state.outcome
    }

    /// Lets time pass, up to where the trial is over.
    fn passed(&self, state: &mut TrialState, at: Instant) -> TrialOutcome {
        let end = state.began.after(self.lasting);
        if let Some(since) = state.slow_since {
            let fails = since.after(self.slow_heart);
            if at > fails {
                state.until(fails);
                return TrialOutcome::Failed { why: FailReason::SlowHeart, at: fails };
            }
        } else if at >= end {
            state.until(end.max(state.now));
            return match state.doubt {
                Some(why) => TrialOutcome::Unknown(why),
                None => TrialOutcome::Completed,
            };
        }
        state.until(at);
        TrialOutcome::Running(end.since(at))
    }
}

impl TrialState {
    /// What the trial has come to.
    pub const fn outcome(&self) -> TrialOutcome {
        self.outcome
    }

    /// Times and counts so far.
    #[must_use]
    pub const fn totals(&self) -> TrialTotals {
        self.totals
    }

    fn until(&mut self, at: Instant) {
        let span = at.since(self.now);
        let totals = &mut self.totals;
        totals.lasted = totals.lasted.saturating_add(span);
        for (on, total) in [
            (self.slow_since.is_some(), &mut totals.slow_heart),
            (self.is_low, &mut totals.low_saturation),
            (self.is_unwatched, &mut totals.unwatched),
        ] {
            if on {
                *total = total.saturating_add(span);
            }
        }
        self.now = at;
    }

    fn take(&mut self, event: TrialEvent) {
        match event {
            TrialEvent::Begins | TrialEvent::TimePasses => {}
            TrialEvent::SlowHeartBegins => {
                self.slow_since.get_or_insert(self.now);
            }
            TrialEvent::SlowHeartEnds => {
                let was = self.slow_since.take().is_some();
                self.ended(was);
            }
            TrialEvent::LowSaturationBegins => self.is_low = true,
            TrialEvent::LowSaturationEnds => {
                let was = core::mem::take(&mut self.is_low);
                self.ended(was);
            }
            TrialEvent::LowDespiteOxygen => {
                let why = FailReason::LowDespiteOxygen;
                self.outcome = TrialOutcome::Failed { why, at: self.now };
            }
            TrialEvent::Stimulated => {
                self.totals.stimulations = self.totals.stimulations.saturating_add(1);
            }
            TrialEvent::WatchLost => {
                self.is_unwatched = true;
                self.doubt.get_or_insert(NoTrialOutcome::Unwatched);
            }
            TrialEvent::WatchBack => {
                let was = core::mem::take(&mut self.is_unwatched);
                self.ended(was);
            }
            TrialEvent::Stops => self.outcome = TrialOutcome::Stopped(self.now.since(self.began)),
        }
    }

    fn ended(&mut self, was: bool) {
        if !was {
            self.doubt.get_or_insert(NoTrialOutcome::BeginMissed);
        }
    }
}

impl fmt::Display for TrialOutcome {
    /// One sentence.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotBegun => f.write_str("not begun"),
            Self::Running(left) => write!(f, "running, {left} left"),
            Self::Completed => f.write_str("lasted its time without an event that fails it"),
            Self::Failed { why: FailReason::SlowHeart, .. } => {
                f.write_str("failed: the heart was slow for too long")
            }
            Self::Failed { why: FailReason::LowDespiteOxygen, .. } => {
                f.write_str("failed: saturation stayed low although oxygen was raised")
            }
            Self::Stopped(after) => write!(f, "stopped after {after}"),
            Self::Unknown(why) => f.write_str(match why {
                NoTrialOutcome::Unwatched => "cannot be judged: part of it was not watched",
                NoTrialOutcome::OutOfOrder => "cannot be judged: an event came out of order",
                NoTrialOutcome::BeginMissed => "cannot be judged: the begin of an event was missed",
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
        let (trial, mut state) = (BreathingTrial::default(), TrialState::default());
        let begin = Instant::from_us(100_000_000);
        let mut outcome = trial.step(&mut state, begin, E::Begins);
        for &(seconds, event) in events {
            outcome = trial.step(&mut state, begin.after(s(seconds)), event);
        }
        assert_eq!(state.outcome(), outcome);
        (outcome, state.totals())
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
            (120, E::Stimulated),
        ];
        assert_eq!(run(&events).0, TrialOutcome::Running(s(60)));
        let mut all = events.to_vec();
        all.push((200, E::TimePasses));
        let (outcome, totals) = run(&all);
        assert_eq!(outcome, TrialOutcome::Completed);
        let want = TrialTotals {
            lasted: s(180),
            slow_heart: s(19), // 15 + 4
            low_saturation: s(30),
            stimulations: 1,
            unwatched: Duration::ZERO,
        };
        assert_eq!(totals, want);
        // Nothing changes a trial that is over.
        all.extend([(210, E::LowDespiteOxygen), (220, E::Stops), (1, E::Stimulated)]);
        assert_eq!(run(&all), (TrialOutcome::Completed, want));
    }

    #[test]
    fn a_slow_heart_for_longer_than_fifteen_seconds_fails() {
        let (outcome, totals) = run(&[(20, E::SlowHeartBegins), (36, E::TimePasses)]);
        let at = Instant::from_us(135_000_000); // 100 + 20 + 15
        assert_eq!(outcome, TrialOutcome::Failed { why: FailReason::SlowHeart, at });
        assert_eq!((totals.lasted, totals.slow_heart), (s(35), s(15)));
        // Told late: it had failed before it ended. A begin told twice stands once.
        let (outcome, _) =
            run(&[(20, E::SlowHeartBegins), (30, E::SlowHeartBegins), (36, E::SlowHeartEnds)]);
        assert_eq!(outcome.to_string(), "failed: the heart was slow for too long");
    }

    #[test]
    fn low_saturation_fails_only_despite_oxygen() {
        let low = [(20, E::LowSaturationBegins), (179, E::TimePasses)];
        assert_eq!(run(&low).0, TrialOutcome::Running(s(1)));
        let (outcome, totals) = run(&[low[0], (50, E::LowDespiteOxygen)]);
        let at = Instant::from_us(150_000_000);
        assert_eq!(outcome, TrialOutcome::Failed { why: FailReason::LowDespiteOxygen, at });
        assert_eq!(totals.low_saturation, s(30));
        // Still low at the end, and no event that fails.
        let (outcome, totals) = run(&[low[0], (300, E::TimePasses)]);
        assert_eq!((outcome, totals.low_saturation), (TrialOutcome::Completed, s(160)));
    }

    #[test]
    fn a_heart_slow_at_the_end_is_waited_for() {
        let slow = (170, E::SlowHeartBegins);
        assert_eq!(run(&[slow, (182, E::TimePasses)]).0, TrialOutcome::Running(Duration::ZERO));
        let (outcome, totals) = run(&[slow, (184, E::SlowHeartEnds)]);
        assert_eq!((outcome, totals.slow_heart), (TrialOutcome::Completed, s(14)));
        assert_eq!(totals.lasted, s(184));
        let (outcome, _) = run(&[slow, (186, E::SlowHeartEnds)]);
        assert!(matches!(outcome, TrialOutcome::Failed { why: FailReason::SlowHeart, .. }));
        // At the end itself the trial is over.
        assert_eq!(run(&[(180, E::SlowHeartBegins)]).0, TrialOutcome::Completed);
    }

    #[test]
    fn stopping_is_neither_failing_nor_lasting() {
        let (outcome, totals) = run(&[(40, E::Stimulated), (70, E::Stops)]);
        assert_eq!((outcome, totals.lasted), (TrialOutcome::Stopped(s(70)), s(70)));
        assert_eq!(outcome.to_string(), "stopped after 70.000 s");
    }

    #[test]
    fn what_was_missed_is_not_judged() {
        let end = (200, E::TimePasses);
        let unknown = |why| TrialOutcome::Unknown(why);
        let (outcome, totals) = run(&[(20, E::WatchLost), (30, E::WatchBack), end]);
        assert_eq!(outcome, unknown(NoTrialOutcome::Unwatched));
        assert_eq!(totals.unwatched, s(10));
        let (outcome, _) = run(&[(50, E::TimePasses), (40, E::SlowHeartBegins), end]);
        assert_eq!(outcome, unknown(NoTrialOutcome::OutOfOrder));
        let (outcome, _) = run(&[(50, E::TimePasses), (40, E::TimePasses), end]);
        assert_eq!(outcome, TrialOutcome::Completed);
        for event in [E::SlowHeartEnds, E::LowSaturationEnds, E::WatchBack] {
            assert_eq!(run(&[(20, event), end]).0, unknown(NoTrialOutcome::BeginMissed));
        }
        // A failure stands all the same.
        let (outcome, _) = run(&[(20, E::WatchLost), (30, E::LowDespiteOxygen)]);
        assert!(matches!(outcome, TrialOutcome::Failed { .. }));
    }

    #[test]
    fn a_trial_begins_and_begins_anew() {
        let (trial, mut state) = (BreathingTrial::default(), TrialState::default());
        let at = |seconds: u64| Instant::from_us(seconds * 1_000_000);
        assert_eq!(trial.step(&mut state, at(5), E::Stimulated), TrialOutcome::NotBegun);
        let _ = trial.step(&mut state, at(10), E::Begins);
        let _ = trial.step(&mut state, at(20), E::LowDespiteOxygen);
        let again = trial.step(&mut state, at(30), E::Begins);
        assert_eq!(
            (again, state.totals()),
            (TrialOutcome::Running(s(180)), TrialTotals::default())
        );
    }

    #[test]
    fn settings_are_checked() {
        let new = |lasting, slow| BreathingTrial::new(s(lasting), s(slow)).map_err(|e| e.parameter);
        assert_eq!(new(59, 15), Err("lasting"));
        assert_eq!(new(7_201, 15), Err("lasting"));
        assert_eq!(new(180, 0), Err("slow_heart"));
        assert_eq!(new(180, 61), Err("slow_heart"));
        assert_eq!(new(180, 15), Ok(BreathingTrial::default()));
    }
}
