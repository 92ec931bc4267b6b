//! The published tests along a stretch against each of them alone.
//!
//! - The tally is that of its breaths; ratio, time below and settings are what each test says of the same.
//! - The trial is that of events made of the signs.
//! - Outside a stretch nothing changes.

use super::sums::Sums;
use crate::fuzzed::words::said;
use tidevane::alarm::VitalSigns;
use tidevane::bedside::{
    BreathingTrial, EntryLimits, Form, MinuteVolumeRatio, OwnRun, TimeBelow, TimeBelowState,
    TrialEvent, TrialState,
};
use tidevane::quantity::{Instant, Mass, MinuteVolumePerKg};
use tidevane::trend::{Before, Readiness, ReadinessState, TrendBreath};

pub(super) struct Stretch {
    readiness: Readiness,
    state: ReadinessState,
    weight: Option<Mass>,
    from: Instant,
    to: Instant,
    sums: Sums,
    below: TimeBelowState,
    trial: TrialState,
    /// Unwatched, slow, low.
    on: [bool; 3],
}

impl Stretch {
    pub(super) fn new(weight: Option<Mass>) -> Self {
        let readiness = Readiness::default();
        Self {
            readiness: weight.map_or(readiness, |weight| readiness.with_weight(weight)),
            state: ReadinessState::default(),
            weight,
            from: Instant::default(),
            to: Instant::default(),
            sums: Sums::default(),
            below: TimeBelowState::default(),
            trial: TrialState::default(),
            on: [false; 3],
        }
    }

    fn tell(&mut self, at: Instant, event: TrialEvent) {
        let _ = BreathingTrial::default().step(&mut self.trial, at, event);
    }

    pub(super) fn begin(&mut self, at: Instant, before: Before, signs: VitalSigns) {
        self.readiness.begin(&mut self.state, at, before, signs);
        assert!(self.state.is_running() && self.state.before() == &before);
        (self.from, self.to, self.on) = (at, at, [false; 3]);
        (self.sums, self.below) = (Sums::default(), TimeBelowState::default());
        self.tell(at, TrialEvent::Begins);
        self.shown(at, signs);
        self.holds();
    }

    pub(super) fn signs(&mut self, at: Instant, signs: VitalSigns) {
        let was = self.state;
        self.readiness.set_vital_signs(&mut self.state, at, signs);
        if !was.is_running() {
            assert_eq!(self.state, was);
            return;
        }
        self.shown(at, signs);
        self.holds();
    }

    fn shown(&mut self, at: Instant, signs: VitalSigns) {
        let now = [
            signs.heart_rate.is_none() || signs.saturation.is_none(),
            signs.heart_rate.is_some_and(|rate| rate < 100),
            signs.saturation.is_some_and(|percent| percent < 85),
        ];
        let events = [
            (TrialEvent::WatchLost, TrialEvent::WatchBack),
            (TrialEvent::SlowHeartBegins, TrialEvent::SlowHeartEnds),
            (TrialEvent::LowSaturationBegins, TrialEvent::LowSaturationEnds),
        ];
        for ((was, now), (begins, ends)) in self.on.into_iter().zip(now).zip(events) {
            if was != now {
                self.tell(at, if now { begins } else { ends });
            }
        }
        self.on = now;
    }

    pub(super) fn breath(&mut self, at: Instant, breath: &TrendBreath) {
        let was = self.state;
        // The volume a minute that the breath alone would make.
        let minute = breath.volume;
        self.readiness.breath(&mut self.state, at, breath, minute);
        if !was.is_running() {
            assert_eq!(self.state, was);
            return;
        }
        self.to = self.to.max(at);
        self.sums.take(breath);
        let per_kg = minute.filter(|_| breath.trusted).zip(self.weight);
        let per_kg = per_kg.and_then(|(v, mass)| MinuteVolumePerKg::of(v, mass).within());
        TimeBelow::default().step(&mut self.below, breath.length, per_kg);
        self.tell(self.to, TrialEvent::TimePasses);
        self.holds();
    }

    pub(super) fn end(&mut self, at: Instant) {
        let was = self.state;
        self.readiness.end(&mut self.state, at);
        if !was.is_running() {
            assert_eq!(self.state, was);
            return;
        }
        assert!(!self.state.is_running());
        self.to = self.to.max(at);
        self.tell(self.to, TrialEvent::Stops);
        self.holds();
        self.sums.holds(self.state.tally());
        for text in [
            said(&self.readiness.ratio(&self.state)),
            said(&self.readiness.below(&self.state)),
            said(&self.readiness.entry(&self.state)),
            said(&self.state.trial()),
        ] {
            assert!(text.len() < 120, "{text}");
        }
    }

    fn holds(&self) {
        let (readiness, state) = (&self.readiness, &self.state);
        assert_eq!(state.lasted(), self.to.since(self.from));
        assert_eq!((state.trial(), state.totals()), (self.trial.outcome(), self.trial.totals()));
        assert_eq!(state.spans(), self.below.spans());
        assert_eq!(readiness.below(state), TimeBelow::default().share(&self.below));
        assert_eq!(readiness.entry(state), EntryLimits::default().check(&state.before().entry));
        let tally = state.tally();
        let own = tally.minute_volume();
        let run = OwnRun {
            lasted: self.to.since(self.from),
            breaths: tally.breaths().into(),
            own,
            mechanical: state.before().mechanical,
        };
        assert_eq!(readiness.ratio(state), MinuteVolumeRatio::default().judge(&run));
        let per_kg = own.zip(self.weight);
        let per_kg = per_kg.and_then(|(v, mass)| MinuteVolumePerKg::of(v, mass).within());
        assert_eq!(readiness.own_per_kg(state), per_kg);
        let index = self.weight.and_then(|mass| tally.rapid_shallow(Form::PerMlPerKg, mass));
        assert_eq!(readiness.rapid_shallow(state), index);
    }
}
