//! Where the samples come from, and the loop that feeds them through.

use crate::args::Args;
use crate::config;
use crate::figures::Summary;
use crate::input::{Line, Recording};
use crate::output::Outputs;
use anyhow::{Result, bail};
use tidevane::monitor::{Monitor, Report, Settings};
use tidevane::quantity::Moment;
use tidevane::signal::Reading;
use tidevane::sim::{Simulator, demo};

/// A recording, or the built-in demo shift.
pub(crate) enum Source {
    Recording(Box<Recording>),
    Demo(Box<Simulator>),
}

pub(crate) fn open(args: &Args) -> Result<Source> {
    Ok(match &args.file {
        Some(path) => Source::Recording(Box::new(Recording::open(path, args.strict)?)),
        None => Source::Demo(Box::new(Simulator::new(&demo::shift())?)),
    })
}

impl Source {
    fn name(&self) -> String {
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

    fn next(&mut self) -> Result<Option<Line>> {
        match self {
            Self::Recording(recording) => recording.next(),
            Self::Demo(simulator) => Ok(demo_line(simulator)),
        }
    }

    fn bad_lines(&self) -> u64 {
        match self {
            Self::Recording(recording) => recording.bad_lines,
            Self::Demo(_) => 0,
        }
    }
}

/// Feeds everything through one monitor.
pub(crate) fn replay(
    source: &mut Source,
    settings: Settings,
    outputs: &mut Outputs,
) -> Result<Summary> {
    let mut monitor = Monitor::new(settings);
    let mut summary = Summary::new(source.name());
    while let Some(line) = source.next()? {
        match line {
            Line::Bad => monitor.lost(),
            Line::Good(at, reading) => {
                summary.reading(at);
                outputs.reading(at, reading);
                take(&monitor.push_at(at, reading), &mut summary, outputs)?;
            }
        }
    }
    take(&monitor.finish(), &mut summary, outputs)?;
    summary.bad_lines = source.bad_lines();
    if summary.samples == 0 {
        bail!("{} holds no usable sample", source.name());
    }
    Ok(summary)
}

fn take(report: &Report, summary: &mut Summary, outputs: &mut Outputs) -> Result<()> {
    for event in &report.events {
        outputs.event(event)?;
        summary.event(event);
    }
    if let Some(breath) = &report.breath {
        outputs.breath(breath)?;
        summary.breath(breath);
    }
    Ok(())
}

fn demo_line(simulator: &mut Simulator) -> Option<Line> {
    let output = simulator.step();
    if output.at >= Moment::from_us(u64::from(demo::DURATION_S) * 1_000_000) {
        return None;
    }
    Some(output.sample.map_or(Line::Bad, |sample| {
        Line::Good(output.at, Reading { flow: sample.flow, pressure: sample.pressure })
    }))
}
