//! The published tests of readiness, kept while nothing is assured and nothing supported.

use tidevane::alarm::Signs;
use tidevane::monitor::{BreathReport, MachineSet};
use tidevane::quantity::{Mass, MinuteVolumePerKg, Moment, Span, Volume};
use tidevane::wean::{
    BelowShare, BreathingTrial, Form, MinuteVolumeRatio, OwnRun, RapidShallow, RatioOutcome, Tally,
    TimeBelow, TimeBelowState, TrialEvent, TrialOutcome, TrialState, TrialTotals,
};

/// A heart slower than this, per minute, and a saturation lower than this, in percent, are events
/// of a trial (Kamlin 2006, Arch Dis Child Fetal Neonatal Ed 91:F180-183; from memory).
const SLOW_HEART: u16 = 100;
const LOW_SATURATION: u8 = 85;

/// A stretch without inflations.
pub(crate) struct Trial {
    pub(crate) from_s: f64,
    from: Moment,
    to: Moment,
    /// What was set before it.
    pub(crate) before: MachineSet,
    mechanical: Option<Volume>,
    tally: Tally,
    below: TimeBelowState,
    book: TrialState,
    slow: bool,
    low: bool,
    watched: bool,
    over: bool,
}

impl Trial {
    /// Begins at a moment, after a stretch whose last minutes are given.
    pub(crate) fn begin(
        (from_s, from): (f64, Moment),
        before: MachineSet,
        last: Option<Tally>,
        signs: Signs,
    ) -> Self {
        let mut trial = Self {
            from_s,
            from,
            to: from,
            before,
            mechanical: last.and_then(|t| t.minute_volume()),
            tally: Tally::default(),
            below: TimeBelowState::default(),
            book: TrialState::default(),
            slow: false,
            low: false,
            watched: true,
            over: false,
        };
        trial.tell(from, TrialEvent::Begins);
        trial.signs(from, signs);
        trial
    }

    fn tell(&mut self, at: Moment, event: TrialEvent) {
        let _ = BreathingTrial::default().step(&mut self.book, at, event);
    }

    /// What the other monitor shows now.
    pub(crate) fn signs(&mut self, at: Moment, signs: Signs) {
        let watched = signs.heart_rate.is_some() && signs.saturation.is_some();
        let slow = signs.heart_rate.is_some_and(|rate| rate < SLOW_HEART);
        let low = signs.saturation.is_some_and(|percent| percent < LOW_SATURATION);
        let events = [
            (watched, &mut self.watched, TrialEvent::WatchBack, TrialEvent::WatchLost),
            (slow, &mut self.slow, TrialEvent::SlowHeartBegins, TrialEvent::SlowHeartEnds),
            (low, &mut self.low, TrialEvent::LowSaturationBegins, TrialEvent::LowSaturationEnds),
        ]
        .map(|(now, was, begins, ends)| {
            let changed = std::mem::replace(was, now) != now;
            changed.then_some(if now { begins } else { ends })
        });
        events.into_iter().flatten().for_each(|event| self.tell(at, event));
    }

    pub(crate) fn breath(&mut self, report: &BreathReport, weight: Option<Mass>) {
        let breath = report.for_trend();
        self.tally.take(&breath);
        let per_kg = report.minute_volume.zip(weight);
        let per_kg = per_kg.and_then(|(volume, mass)| MinuteVolumePerKg::of(volume, mass).within());
        let span = breath.length;
        TimeBelow::default().step(&mut self.below, span, per_kg.filter(|_| breath.trusted));
        self.to = self.to.max(report.breath.end);
        self.tell(self.to, TrialEvent::TimePasses);
    }

    pub(crate) fn end(&mut self, at: Moment) {
        self.over = true;
        self.to = self.to.max(at);
        self.tell(self.to, TrialEvent::Stops);
    }

    pub(crate) const fn is_over(&self) -> bool {
        self.over
    }

    pub(crate) fn lasted(&self) -> Span {
        self.to.since(self.from)
    }

    pub(crate) const fn mechanical(&self) -> Option<Volume> {
        self.mechanical
    }

    pub(crate) const fn tally(&self) -> &Tally {
        &self.tally
    }

    /// Own minute volume over that with inflations.
    pub(crate) fn ratio(&self) -> RatioOutcome {
        MinuteVolumeRatio::default().judge(&OwnRun {
            lasted: self.lasted(),
            breaths: self.tally.breaths().into(),
            own: self.tally.minute_volume(),
            mechanical: self.mechanical,
        })
    }

    /// The share of time under the published threshold.
    pub(crate) fn below(&self) -> (BelowShare, Span) {
        (TimeBelow::default().share(&self.below), self.below.spans().below)
    }

    pub(crate) const fn book(&self) -> (TrialOutcome, TrialTotals) {
        (self.book.outcome(), self.book.totals())
    }

    /// Own minute volume in mL for each kilogram.
    pub(crate) fn per_kg(&self, weight: Mass) -> Option<f64> {
        let volume = MinuteVolumePerKg::of(self.tally.minute_volume()?, weight).within()?;
        Some(volume.get().to_num())
    }

    /// Rate over volume per kg of the trial's breaths.
    pub(crate) fn rapid_shallow(&self, weight: Mass) -> Option<RapidShallow> {
        self.tally.rapid_shallow(Form::PerMlPerKg, weight)
    }
}
