//! Where the samples come from.

use crate::args::Args;
use crate::config::{self, Course};
use crate::input::columns::Columns;
use crate::input::layout::Layout;
use crate::input::recording::{Line, Recording};
use anyhow::Result;
use tidevane::quantity::{Flow, Instant, Pressure};
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
    pub(crate) fn course(&self) -> Option<Course> {
        match self {
            Self::Recording(_) => None,
            Self::Demo(_) => Some(Course::of_demo(&demo::shift())),
        }
    }

    /// What the recording was read by.
    pub(crate) fn columns(&self) -> Option<&Columns> {
        match self {
            Self::Recording(recording) => Some(recording.columns()),
            Self::Demo(_) => None,
        }
    }

    pub(crate) fn remark(&self) -> Option<&'static str> {
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

    /// Rows that were the same as the one before and were left out.
    pub(crate) fn repeated(&self) -> u64 {
        match self {
            Self::Recording(recording) => recording.repeated,
            Self::Demo(_) => 0,
        }
    }

    pub(crate) fn bad_lines(&self) -> u64 {
        match self {
            Self::Recording(recording) => recording.bad_lines,
            Self::Demo(_) => 0,
        }
    }
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
