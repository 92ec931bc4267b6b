//! The steps of weaning along a recording, each with how it began, how it ended, and what was said.

use tidevane::monitor::{MachineSettings, Monitor};
use tidevane::trend::{LoadSigns, LoadVerdict, Tally};

/// One step.
pub(crate) struct Step {
    pub(crate) from_s: f64,
    pub(crate) to_s: f64,
    pub(crate) machine: MachineSettings,
    /// The minutes after it had settled.
    pub(crate) baseline: Tally,
    /// The last three minutes; `None` where it was shorter.
    pub(crate) last: Option<Tally>,
    /// Verdicts as they changed, with their time in seconds.
    pub(crate) verdicts: Vec<(f64, LoadVerdict)>,
}

impl Step {
    /// When the step before was first asked for, and every sign that spoke for it in the end.
    pub(crate) fn asked_back(&self) -> Option<(f64, LoadSigns)> {
        let mut first = None;
        let mut signs = LoadSigns::NONE;
        for (at, verdict) in &self.verdicts {
            if let LoadVerdict::StepBack(more) = verdict {
                first.get_or_insert(*at);
                signs = signs.with(*more);
            }
        }
        first.map(|at| (at, signs))
    }
}

/// The steps so far.
pub(crate) struct Steps {
    pub(crate) all: Vec<Step>,
}

impl Steps {
    pub(crate) fn new(machine: MachineSettings) -> Self {
        let mut steps = Self { all: Vec::new() };
        steps.open(0.0, machine);
        steps
    }

    fn open(&mut self, from_s: f64, machine: MachineSettings) {
        self.all.push(Step {
            from_s,
            to_s: from_s,
            machine,
            baseline: Tally::default(),
            last: None,
            verdicts: Vec::new(),
        });
    }

    /// The step under way ends; called while the monitor still holds its minutes.
    pub(crate) fn close(&mut self, at_s: f64, monitor: &Monitor) {
        let Some(step) = self.all.last_mut() else { return };
        step.to_s = at_s;
        step.baseline = *monitor.trend().baseline();
        step.last = monitor.trend().recent();
    }

    /// The next step begins. One that began at the very start only names the first.
    pub(crate) fn begin(&mut self, at_s: f64, machine: MachineSettings) {
        if let Some(step) = self.all.last_mut().filter(|step| step.to_s - step.from_s < 1.0) {
            step.machine = machine;
            return;
        }
        self.open(at_s, machine);
    }

    pub(crate) fn verdict(&mut self, at_s: f64, verdict: LoadVerdict) {
        if let Some(step) = self.all.last_mut() {
            step.verdicts.push((at_s, verdict));
        }
    }
}
