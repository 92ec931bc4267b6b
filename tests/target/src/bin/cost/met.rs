//! What a recording led through: a worst case is none where its path was not met.

use crate::say;
use core::fmt::Write;
use tidevane::mechanics::{FitOutcome, NonlinearElastance};
use tidevane::monitor::{BreathReport, Report};
use tidevane_target::board::host::Out;

/// By their names: what happened, what closed breaths held, what started them. A double or reverse
/// trigger and a change that is no step are not among them: they cost a count, or what a missed effort does.
const PATHS: [&str; 30] = [
    "gap",
    "stuck",
    "clipped",
    "disorder",
    "out-of-range",
    "clock-reset",
    "missed-effort",
    "zero-drift",
    "alarm-on",
    "alarm-off",
    "wean-step",
    "step-back",
    "tiring",
    "load",
    "volume-limit",
    "volume-limit-unknown",
    "implausible",
    "open-circuit",
    "lung-changed",
    "effort",
    "timed",
    "self-leak",
    "self-ripple",
    "unknown",
    "own breath",
    "flagged breath",
    "cut breath",
    "fit solved",
    "bend solved",
    "four events at once",
];

/// How often each was met.
#[derive(Default)]
pub(crate) struct Met {
    counts: [u32; PATHS.len()],
}

impl Met {
    pub(crate) fn take(&mut self, report: &Report) {
        for event in &report.events {
            self.one(event.what.name());
        }
        if report.events.len() >= 4 {
            self.one("four events at once");
        }
        if let Some(closed) = &report.breath {
            self.close(closed);
        }
    }

    fn close(&mut self, closed: &BreathReport) {
        self.one(closed.initiation.map_or("own breath", |initiation| initiation.cause.name()));
        if matches!(closed.mechanics, FitOutcome::Known { .. }) {
            self.one("fit solved");
        }
        if matches!(closed.bend, NonlinearElastance::Known { .. }) {
            self.one("bend solved");
        }
        if !closed.breath.is_trusted() {
            self.one("flagged breath");
        }
        if closed.breath.flags.has(tidevane::signal::Flags::CUT) {
            self.one("cut breath");
        }
    }

    fn one(&mut self, name: &str) {
        if let Some(place) = PATHS.iter().position(|path| *path == name)
            && let Some(count) = self.counts.get_mut(place)
        {
            *count += 1;
        }
    }

    /// A line each, and how many were not met.
    pub(crate) fn say(&self) {
        for (name, count) in PATHS.iter().zip(self.counts) {
            let _ = writeln!(Out, "path {name}: {count}");
        }
        say("paths not met", self.counts.iter().filter(|count| **count == 0).count() as u64);
    }
}
