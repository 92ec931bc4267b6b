//! Where the samples come from, and the loop that feeds them through.

use crate::args::Args;
use crate::config::{self, Setup};
use crate::config::{Change, Course};
use crate::figures::Summary;
use crate::input::layout::Layout;
use crate::input::recording::{Line, Recording};
use crate::output::files::Outputs;
use crate::stream::{Step, Stream};
use crate::tables::events;
use crate::text::printable;
use crate::timeline::Timeline;
use crate::trial::Trial;
use anyhow::{Result, bail};
use tidevane::monitor::{EventKind, MachineSettings, Monitor, Report};
use tidevane::quantity::{Flow, Instant, Pressure, Share};
use tidevane::signal::Reading;
use tidevane_sim::{Simulator, demo};

/// A recording, or the built-in demo shift.
pub(crate) enum Source {
    Recording(Box<Recording>),
    Demo(Box<Simulator>),
}

pub(crate) fn open(args: &Args, layout: &Layout) -> Result<Source> {
    Ok(match &args.file {
        Some(path) => Source::Recording(Box::new(Recording::open(path, layout, args.strict)?)),
        None => Source::Demo(Box::new(Simulator::new(&demo::shift())?)),
    })
}

impl Source {
    pub(crate) fn name(&self) -> String {
        match self {
            Self::Recording(recording) => recording.name.clone(),
            Self::Demo(_) => "the built-in demo shift of an invented infant (simulated)".into(),
        }
    }

    /// What the source itself says about the patient and the machine.
    pub(crate) fn defaults(&self) -> config::File {
        match self {
            Self::Recording(_) => config::File::default(),
            Self::Demo(_) => config::File::of_demo(),
        }
    }

    pub(crate) fn next(&mut self) -> Result<Option<Line>> {
        match self {
            Self::Recording(recording) => recording.next(),
            Self::Demo(simulator) => Ok(demo_line(simulator)),
        }
    }

    /// Where the latest sample stands.
    pub(crate) fn place(&self) -> String {
        match self {
            Self::Recording(recording) => recording.place(),
            Self::Demo(_) => self.name(),
        }
    }

    /// What was changed along the way, as far as the source itself tells.
    fn course(&self) -> Option<Course> {
        match self {
            Self::Recording(_) => None,
            Self::Demo(_) => Some(Course::of_demo(&demo::shift())),
        }
    }

    fn remark(&self) -> Option<&'static str> {
        match self {
            Self::Recording(recording) => recording.remark(),
            Self::Demo(_) => None,
        }
    }

    /// Why nothing came of it.
    pub(crate) fn unusable(&self) -> String {
        let name = self.name();
        match self.remark() {
            Some(remark) => format!("{name} holds no usable sample; {remark}"),
            None => format!("{name} holds no usable sample"),
        }
    }

    pub(crate) fn bad_lines(&self) -> u64 {
        match self {
            Self::Recording(recording) => recording.bad_lines,
            Self::Demo(_) => 0,
        }
    }
}

/// Feeds everything through one monitor.
pub(crate) fn replay(
    source: &mut Source,
    setup: &Setup,
    outputs: &mut Outputs,
    strict: bool,
) -> Result<Summary> {
    let mut run = Run {
        monitor: Monitor::new(setup.settings),
        summary: Summary::new(source.name(), setup),
        timeline: Timeline::new(setup.cut),
        oxygen: setup.bedside.oxygen,
        outputs,
    };
    let mut course = match &setup.changes {
        Some(changes) => Course::of_file(changes.clone())?,
        None => source.course().unwrap_or_default(),
    };
    let mut stream = Stream::new(source, setup.cut);
    while let Some(step) = stream.next()? {
        let report = match step {
            Step::Lost => run.monitor.lost(),
            Step::Silent(at) => run.monitor.tick_at(at),
            Step::Reading(at, reading) => {
                run.summary.samples += 1;
                run.timeline.reading(at);
                run.outputs.reading(at, &run.timeline, reading)?;
                while let Some(change) = course.due(run.timeline.seconds()) {
                    run.change(at, &change)?;
                }
                let report = run.monitor.push_at(at, reading);
                if strict {
                    refuse(&report, &stream)?;
                }
                report
            }
        };
        run.take(&report)?;
    }
    let mut summary = run.finish()?;
    summary.bad_lines = source.bad_lines();
    summary.unmade = course.left();
    if summary.samples == 0 {
        bail!("{}", source.unusable());
    }
    if let Some(remark) = source.remark() {
        eprintln!("{}: {}", printable(&source.name()), printable(remark));
    }
    Ok(summary)
}

struct Run<'a> {
    monitor: Monitor,
    summary: Summary,
    timeline: Timeline,
    oxygen: Option<Share>,
    outputs: &'a mut Outputs,
}

impl Run<'_> {
    /// Something was changed on the machine, or another monitor shows something else.
    fn change(&mut self, at: Instant, change: &Change) -> Result<()> {
        // A breath that is still being worked out belongs to what was set before: nothing changed yet.
        let report = self.monitor.settings_changed(at, *self.monitor.settings());
        self.take(&report)?;
        let seconds = self.timeline.seconds();
        let signs = change.signs(self.summary.signs);
        if signs != self.summary.signs {
            self.summary.signs_at.push((seconds, signs));
        }
        self.summary.signs = signs;
        self.monitor.set_vital_signs(signs);
        let (was, settings) =
            (*self.monitor.settings().machine(), change.apply(self.monitor.settings())?);
        let now = *settings.machine();
        if now.threshold != was.threshold {
            self.summary.seconds = seconds;
            self.summary.judge(&self.monitor);
        }
        if now.is_step_from(&was) {
            self.summary.steps.close(seconds, &self.monitor);
            self.summary.steps.begin(seconds, now);
            self.trial((seconds, at), was, now);
        }
        self.summary.settings = settings;
        if let Some(trial) = &mut self.summary.trial {
            trial.set_vital_signs(at, signs);
        }
        let report = self.monitor.settings_changed(at, settings);
        self.take(&report)
    }

    /// A stretch without inflations begins or ends.
    fn trial(&mut self, at: (f64, Instant), was: MachineSettings, now: MachineSettings) {
        if now.is_without_inflations() {
            let last = self.monitor.trend().recent();
            let signs = self.summary.signs;
            let infant = (self.summary.settings.weight(), self.oxygen);
            self.summary.trial = Some(Trial::begin(at, infant, (was, last), signs));
        } else if let Some(trial) = &mut self.summary.trial {
            trial.end(at.1);
        }
    }

    fn take(&mut self, report: &Report) -> Result<()> {
        for (event, time) in events::timed(report, &self.monitor) {
            self.outputs.event(event, time, &self.timeline)?;
        }
        if let Some(breath) = &report.breath {
            self.outputs.breath(breath, &self.timeline)?;
        }
        self.summary.take(report, &self.timeline);
        Ok(())
    }

    fn finish(mut self) -> Result<Summary> {
        loop {
            let report = self.monitor.finish();
            if report.is_silent() {
                break;
            }
            self.take(&report)?;
        }
        self.summary.seconds = self.timeline.seconds();
        self.summary.is_shortened = self.timeline.is_shortened();
        self.summary.finish(&self.monitor);
        Ok(self.summary)
    }
}

/// Stops at a reading that the monitor did not take.
fn refuse(report: &Report, stream: &Stream<'_>) -> Result<()> {
    for event in &report.events {
        if matches!(event.what, EventKind::Refused(_)) {
            bail!("{}: {event}", stream.place());
        }
    }
    Ok(())
}

fn demo_line(simulator: &mut Simulator) -> Option<Line> {
    let output = simulator.step();
    if output.at_us >= u64::from(demo::DURATION_S) * 1_000_000 {
        return None;
    }
    Some(output.sample.map_or(Line::Bad, |sample| {
        let reading = Reading {
            flow: Flow::from_bits(sample.flow_bits()),
            pressure: Pressure::from_bits(sample.pressure_bits()),
        };
        Line::Good(Instant::from_us(output.at_us), reading)
    }))
}
