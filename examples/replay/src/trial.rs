//! A stretch without inflations: the core's tests of readiness, and when it began.

use tidevane::alarm::VitalSigns;
use tidevane::monitor::{BreathReport, MachineSettings};
use tidevane::quantity::{Instant, Mass, Share};
use tidevane::trend::{Before, Readiness, ReadinessState, Tally};

/// The tests along one stretch.
pub(crate) struct Trial {
    pub(crate) from_s: f64,
    pub(crate) readiness: Readiness,
    pub(crate) state: ReadinessState,
}

impl Trial {
    /// Begins at a moment, after a stretch whose last minutes and settings are given.
    pub(crate) fn begin(
        (from_s, at): (f64, Instant),
        (weight, oxygen): (Option<Mass>, Option<Share>),
        (was, last): (MachineSettings, Option<Tally>),
        signs: VitalSigns,
    ) -> Self {
        let readiness = Readiness::default();
        let readiness = weight.map_or(readiness, |mass| readiness.with_weight(mass));
        let before = Before {
            mechanical: last.and_then(|t| t.minute_volume()),
            oxygen,
            peak: was.peak,
            rate: was.set_rate,
        };
        let mut state = ReadinessState::default();
        readiness.begin(&mut state, at, before, signs);
        Self { from_s, readiness, state }
    }

    pub(crate) fn set_vital_signs(&mut self, at: Instant, signs: VitalSigns) {
        self.readiness.set_vital_signs(&mut self.state, at, signs);
    }

    pub(crate) fn breath(&mut self, report: &BreathReport) {
        let (end, volume) = (report.breath.end, report.minute_volume);
        self.readiness.breath(&mut self.state, end, &report.for_trend(), volume);
    }

    pub(crate) fn end(&mut self, at: Instant) {
        self.readiness.end(&mut self.state, at);
    }
}
