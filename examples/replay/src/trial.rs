//! A stretch without inflations: the core's tests of readiness, and when it began.

use tidevane::alarm::Signs;
use tidevane::monitor::{BreathReport, MachineSet};
use tidevane::quantity::{Mass, Moment, Share};
use tidevane::wean::{Before, Entry, Readiness, ReadinessState, Tally};

/// The tests along one stretch.
pub(crate) struct Trial {
    pub(crate) from_s: f64,
    pub(crate) readiness: Readiness,
    pub(crate) state: ReadinessState,
}

impl Trial {
    /// Begins at a moment, after a stretch whose last minutes and settings are given.
    pub(crate) fn begin(
        (from_s, at): (f64, Moment),
        (weight, oxygen): (Option<Mass>, Option<Share>),
        (was, last): (MachineSet, Option<Tally>),
        signs: Signs,
    ) -> Self {
        let readiness = Readiness::default();
        let readiness = weight.map_or(readiness, |mass| readiness.with_weight(mass));
        let entry = Entry { oxygen, peak: was.peak, rate: was.set_rate };
        let before = Before { mechanical: last.and_then(|t| t.minute_volume()), entry };
        let mut state = ReadinessState::default();
        readiness.begin(&mut state, at, before, signs);
        Self { from_s, readiness, state }
    }

    pub(crate) fn signs(&mut self, at: Moment, signs: Signs) {
        self.readiness.signs(&mut self.state, at, signs);
    }

    pub(crate) fn breath(&mut self, report: &BreathReport) {
        let (end, volume) = (report.breath.end, report.minute_volume);
        self.readiness.breath(&mut self.state, end, &report.for_trend(), volume);
    }

    pub(crate) fn end(&mut self, at: Moment) {
        self.readiness.end(&mut self.state, at);
    }
}
