//! A recording through a monitor of its own, into what the report is made of.

use crate::config::Setup;
use crate::doubt::{self, Seen};
use crate::feed::{Fed, Listener, feed};
use crate::figures::Summary;
use crate::output::files::Outputs;
use crate::source::Source;
use crate::tables::events;
use crate::text::{length, many, printable};
use crate::timeline::Timeline;
use crate::trial::Trial;
use anyhow::Result;
use tidevane::alarm::VitalSigns;
use tidevane::monitor::{MachineSettings, Monitor, Report, Settings};
use tidevane::quantity::{Instant, Share};
use tidevane::signal::Reading;

/// Feeds everything through; what is written breath by breath goes to the outputs.
///
/// # Errors
/// What cannot be read or written.
pub(crate) fn replay(
    source: &mut Source,
    setup: &Setup,
    outputs: &mut Outputs,
    strict: bool,
) -> Result<Summary> {
    let summary = Summary::new(source.name(), setup);
    let mut run = Run { summary, seen: Seen::default(), oxygen: setup.bedside.oxygen, outputs };
    let fed = feed(source, setup, strict, &mut run)?;
    let (mut summary, mut seen) = (run.summary, run.seen);
    let Fed { monitor, timeline, blind, end, samples, unmade, .. } = fed;
    summary.hear_no_more(blind, &monitor);
    (summary.samples, summary.unmade) = (samples, unmade);
    summary.bad_lines = source.bad_lines();
    summary.repeated = source.repeated();
    summary.seconds = timeline.seconds();
    summary.is_shortened = timeline.is_shortened();
    summary.rings.finish(end, summary.seconds);
    summary.finish(&monitor);
    let (seconds, clock) = (summary.seconds, |at| summary.clock(at));
    summary.doubts = seen.of_all(seconds, summary.kg(), source.columns(), &clock);
    if unmade > 0 {
        eprintln!(
            "{}: {} told lie after the end of the recording, {}, and were not made",
            printable(&summary.source),
            many(unmade, "change", "changes"),
            length(summary.seconds)
        );
    }
    doubt::say(&summary.source, &summary.doubts);
    doubt::say(&summary.source, &seen.of_breaths());
    if let Some(remark) = source.remark() {
        eprintln!("{}: {}", printable(&source.name()), printable(remark));
    }
    Ok(summary)
}

struct Run<'a> {
    summary: Summary,
    seen: Seen,
    oxygen: Option<Share>,
    outputs: &'a mut Outputs,
}

impl Listener for Run<'_> {
    fn reading(&mut self, at: Instant, reading: Reading, timeline: &Timeline) -> Result<()> {
        self.summary.wall.follow(timeline);
        self.seen.reading(at, timeline.seconds(), reading);
        self.outputs.reading(at, timeline, reading)
    }

    fn change(
        &mut self,
        at: Instant,
        to: &Settings,
        signs: VitalSigns,
        monitor: &Monitor,
        timeline: &Timeline,
    ) {
        let seconds = timeline.seconds();
        let (was, now) = (*monitor.settings().machine(), *to.machine());
        if signs != self.summary.signs {
            self.summary.signs_at.push((seconds, signs));
        }
        self.summary.signs = signs;
        if now.threshold != was.threshold {
            self.summary.seconds = seconds;
            self.summary.judge(monitor);
        }
        if now.is_step_from(&was) {
            self.trial((seconds, at), was, now, monitor);
        }
        self.summary.change(seconds, to, monitor);
        if let Some(trial) = &mut self.summary.trial {
            trial.set_vital_signs(at, signs);
        }
    }

    fn report(&mut self, report: &Report, monitor: &Monitor, timeline: &Timeline) -> Result<()> {
        for (event, time) in events::timed(report, monitor) {
            self.outputs.event(event, time, timeline)?;
        }
        if let Some(breath) = &report.breath {
            self.seen.breath(breath);
            self.outputs.breath(breath, timeline)?;
        }
        self.summary.take(report, timeline)
    }
}

impl Run<'_> {
    /// A stretch without inflations begins or ends.
    fn trial(
        &mut self,
        at: (f64, Instant),
        was: MachineSettings,
        now: MachineSettings,
        monitor: &Monitor,
    ) {
        if now.is_without_inflations() {
            let last = monitor.trend().recent();
            let signs = self.summary.signs;
            let infant = (self.summary.settings.weight(), self.oxygen);
            self.summary.trial = Some(Trial::begin(at, infant, (was, last), signs));
        } else if let Some(trial) = &mut self.summary.trial {
            trial.end(at.1);
        }
    }
}
