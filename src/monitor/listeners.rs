//! The blocks that listen to every interval: efforts without an inflation, the sums of a fit, the
//! volume limiter.

use super::sample_stage::SampleState;
use super::{Event, EventKind, Report, Settings};
use crate::breath::{Breath, Phase};
use crate::mechanics::{Delayed, FitSums};
use crate::quantity::{ConstDefault, Duration, Instant, Pressure, Volume};
use crate::record;
use crate::signal::{Flags, Interval};
use crate::trigger::{Effort, EffortContext, EffortState, Pull, SeenEffort};
use crate::volume::{LimiterOutcome, LimiterState};

record! {
    #[const_default]
    /// What they remember.
    #[derive(Debug, Clone, PartialEq)]
    pub(super) struct Listeners {
        effort: EffortState,
        limiter: LimiterState,
        fit: FitSums,
        delayed: Delayed,
        /// By how much, for the breath under way.
        lag: Option<Duration>,
    }
}

impl Listeners {
    pub(super) const fn new(settings: &Settings) -> Self {
        Self { fit: settings.fit.begin(), ..Self::DEFAULT }
    }

    /// Nothing lies before the next reading.
    pub(super) fn start(&mut self, settings: &Settings) {
        self.delayed = Delayed::default();
        settings.limiter.iter().for_each(|limiter| limiter.end(&mut self.limiter));
    }

    /// Watches for efforts: one in expiration that made no breath.
    pub(super) fn watch(
        &mut self,
        settings: &Settings,
        sample: &SampleState,
        interval: &Interval,
    ) -> Option<Effort> {
        let segment = &sample.segment;
        let around = || EffortContext::of(segment, interval.to.lung);
        settings.effort.step(&mut self.effort, interval, segment.totals(), around)
    }

    /// What the infant did as the inflation under way began.
    pub(super) fn pull(&self) -> Option<Pull> {
        self.effort.pull()
    }

    /// How far ripple moves the muscle pressure.
    pub(super) const fn ripple(&self) -> Pressure {
        self.effort.ripple()
    }

    /// Learns from a closed breath with all its flags, and whether the infant set it off; an effort under its
    /// pressure.
    pub(super) fn close(
        &mut self,
        settings: &Settings,
        seen: &mut SeenEffort,
        breath: &Breath,
        by_infant: bool,
    ) -> Option<Effort> {
        settings.effort.close(&mut self.effort, seen, breath, by_infant)
    }

    /// Learns the terms of the equation of motion of a closed breath.
    pub(super) fn learn(&mut self, settings: &Settings, seen: &mut SeenEffort, breath: &Breath) {
        settings.effort.learn(&mut self.effort, seen, breath);
    }

    /// Learns by how much flow lags behind pressure.
    pub(super) fn learn_lag(&mut self, settings: &Settings, breath: &Breath) {
        settings.effort.learn_lag(&mut self.effort, breath);
    }

    /// Adds to the sums of the fit.
    pub(super) fn add_to_fit(&mut self, sample: &SampleState, interval: &Interval) {
        let lag = self.lag.unwrap_or(Duration::ZERO);
        if self.fit.is_spoiled() {
            return self.delayed.pass(interval, lag);
        }
        let under = self.delayed.step(interval, lag);
        self.fit.add_under(interval, sample.segment.totals(), under);
    }

    /// The flow turned outward. Where the breath under way can no more be found passive nothing is added to
    /// its fit: the infant was `at_work`, or the pressure did not rise.
    pub(super) fn end_inspiration(&mut self, sample: &SampleState, at_work: bool) {
        if at_work || sample.segment.risen().is_none() {
            self.fit.spoil();
        }
    }

    /// How far flow is taken to lag behind pressure in the sums of the fit.
    pub(super) const fn lag(&self) -> Option<Duration> {
        self.lag
    }

    /// A breath ended: what was seen of it, and the sums of its fit. They reach to the sample that confirmed
    /// the turn: the equation of motion holds across breaths, so a few of the next one do no harm. What
    /// comes now belongs to the next.
    pub(super) fn end_breath(
        &mut self,
        settings: &Settings,
        seen: &mut SeenEffort,
        fit: &mut FitSums,
    ) {
        settings.effort.end_breath(&mut self.effort, seen);
        self.lag = self.effort.lag();
        self.delayed.begin();
        *fit = self.fit;
        settings.fit.restart(&mut self.fit);
    }

    /// Holds the inspiration under way against the volume limit; `was` is the phase before this
    /// interval, `opened` whether it closed a breath.
    pub(super) fn limit(
        &mut self,
        settings: &Settings,
        sample: &SampleState,
        interval: &Interval,
        (was, opened): (Phase, bool),
        report: &mut Report,
    ) {
        let Some(limiter) = settings.limiter else { return };
        let now = sample.segment.phase();
        let lung = interval.to.lung;
        let outcome = if opened || (was == Phase::Unknown && now == Phase::Inspiration) {
            limiter.begin(&mut self.limiter, moved(settings, sample));
            if sample.segment.flags().has(Flags::GAP) {
                // Readings were missing before the turn was confirmed.
                return self.lose(settings, interval.at, report);
            }
            // The interval is part of what moved: ask at its end.
            limiter.step(&mut self.limiter, Duration::ZERO, lung, lung)
        } else if now == Phase::Inspiration && !interval.flags.has(Flags::GAP) {
            limiter.step(&mut self.limiter, interval.span, interval.from.lung, lung)
        } else {
            if now == Phase::Inspiration {
                self.lose(settings, interval.at, report);
            }
            if was == Phase::Inspiration && now != was {
                limiter.end(&mut self.limiter);
            }
            return;
        };
        say_limit(outcome, interval.at, report);
    }

    /// Readings are missing in the inspiration under way.
    fn lose(&mut self, settings: &Settings, at: Instant, report: &mut Report) {
        if settings.limiter.is_some_and(|limiter| limiter.lose(&mut self.limiter)) {
            report.add(Event { at, what: EventKind::LimitUnknown });
        }
    }
}

/// What has moved into the lung since the turn.
#[inline(never)]
fn moved(settings: &Settings, sample: &SampleState) -> Volume {
    let sums = sample.segment.current();
    settings.sample.leak_path.into_lung(&sample.leak_path, &sums).value
}

fn say_limit(outcome: LimiterOutcome, at: Instant, report: &mut Report) {
    if let LimiterOutcome::Stop { moved } = outcome {
        report.add(Event { at, what: EventKind::LimitReached(moved) });
    }
}
