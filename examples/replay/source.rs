//! Where the samples come from, and the loop that feeds them through.

use crate::args::Args;
use crate::config::{self, Setup};
use crate::figures::Summary;
use crate::input::{Line, Recording};
use crate::output::Outputs;
use crate::timeline::Timeline;
use anyhow::{Result, bail};
use tidevane::monitor::{Happening, Monitor, Report, Settings};
use tidevane::quantity::{Flow, Moment, Rate};
use tidevane::signal::Reading;
use tidevane::sim::{Simulator, demo};
use tidevane::trigger::Threshold;

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

    /// Where the latest sample stands.
    fn place(&self) -> String {
        match self {
            Self::Recording(recording) => recording.place(),
            Self::Demo(_) => self.name(),
        }
    }

    /// What was changed on the machine since the settings in force; only the demo tells.
    fn changed(&self, at: Moment, settings: &Settings) -> Result<Option<Settings>> {
        let Self::Demo(_) = self else { return Ok(None) };
        let (threshold, rate) = demo::settings_at(at.to_us() as f64 / 1e6);
        let flow = Flow::from_l_per_min(config::number("threshold_lpm", threshold * 0.06)?);
        let threshold = Threshold::new(flow.value)?;
        let rate = Rate::from_milli((rate * 1e3) as i32).value;
        let machine = settings.machine();
        if machine.set_rate == Some(rate) && machine.threshold == Some(threshold) {
            return Ok(None);
        }
        Ok(Some(settings.change().threshold(threshold).set_rate(rate).build()?))
    }

    fn remark(&self) -> Option<&'static str> {
        match self {
            Self::Recording(recording) => recording.remark(),
            Self::Demo(_) => None,
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
    setup: &Setup,
    outputs: &mut Outputs,
    strict: bool,
) -> Result<Summary> {
    let mut monitor = Monitor::new(setup.settings);
    let mut summary = Summary::new(source.name(), setup.inflation_rise);
    let mut timeline = Timeline::new(setup.cut);
    while let Some(line) = source.next()? {
        match line {
            Line::Bad => monitor.lost(),
            Line::Good(at, reading) => {
                summary.samples += 1;
                timeline.reading(at);
                outputs.reading(&timeline, reading);
                if let Some(settings) = source.changed(at, monitor.settings())? {
                    let report = monitor.settings_changed(at, settings);
                    take(&report, &mut summary, outputs, &timeline)?;
                    summary.changes.push((timeline.seconds(), settings));
                }
                let report = monitor.push_at(at, reading);
                if strict {
                    refuse(&report, source)?;
                }
                take(&report, &mut summary, outputs, &timeline)?;
            }
        }
    }
    take(&monitor.finish(), &mut summary, outputs, &timeline)?;
    summary.finish(&monitor);
    summary.bad_lines = source.bad_lines();
    summary.seconds = timeline.seconds();
    match (summary.samples, source.remark()) {
        (0, Some(remark)) => bail!("{} holds no usable sample; {remark}", source.name()),
        (0, None) => bail!("{} holds no usable sample", source.name()),
        (_, Some(remark)) => eprintln!("{}: {remark}", source.name()),
        (_, None) => {}
    }
    Ok(summary)
}

/// Stops at a reading that the monitor did not take.
fn refuse(report: &Report, source: &Source) -> Result<()> {
    for event in &report.events {
        if matches!(event.what, Happening::Refused(_)) {
            bail!("{}: {event}", source.place());
        }
    }
    Ok(())
}

fn take(
    report: &Report,
    summary: &mut Summary,
    outputs: &mut Outputs,
    timeline: &Timeline,
) -> Result<()> {
    for event in &report.events {
        outputs.event(event)?;
        summary.event(event);
    }
    if let Some(breath) = &report.breath {
        outputs.breath(breath, timeline)?;
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
