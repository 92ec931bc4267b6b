//! The sample stage alone beside the monitor that is built on it: the same breaths, for as long as both are fed
//! readings and losses only.

use tidevane::breath::Breath;
use tidevane::monitor::{Breaths, Report, Settings};
use tidevane::quantity::Instant;
use tidevane::signal::{Reading, Sample};

pub(crate) struct Alone {
    breaths: Breaths,
    told: Vec<Breath>,
    by_monitor: Vec<Breath>,
}

impl Alone {
    pub(crate) fn new(settings: &Settings) -> Self {
        Self { breaths: Breaths::new(settings), told: Vec::new(), by_monitor: Vec::new() }
    }

    pub(crate) fn push(&mut self, sample: Sample, report: &Report) {
        self.told.extend(self.breaths.push(sample));
        self.both(report);
    }

    pub(crate) fn lost(&mut self, report: &Report) {
        self.told.extend(self.breaths.lost());
        self.both(report);
    }

    fn both(&mut self, report: &Report) {
        self.by_monitor.extend(report.breath.map(|closed| closed.breath));
        let both = self.told.len().min(self.by_monitor.len());
        assert_eq!(self.told[..both].last(), self.by_monitor[..both].last());
    }

    /// All that is left of both.
    pub(crate) fn finish(mut self, reports: &[Report]) {
        self.told.extend(std::iter::from_fn(|| self.breaths.finish()));
        for report in reports {
            self.by_monitor.extend(report.breath.map(|closed| closed.breath));
        }
        assert_eq!(self.told, self.by_monitor);
        for breath in &self.told {
            let volume = self.breaths.lung_volume(breath);
            assert_eq!(self.breaths.lung_volume(breath), volume);
        }
        let at = Instant::from_us(u64::MAX);
        let told = self.breaths.push_at(at, Reading::default());
        assert!(told.is_none(), "a breath after the end");
    }
}
