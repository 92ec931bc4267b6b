//! Draws the recording: flow, pressure and the breaths, how they went over time, and its end.

mod breaths;
mod detail;
mod merged;
mod panel;
mod steps;
mod style;
mod trends;
mod wave;

use crate::figures::float;
use crate::steps::Steps;
use crate::timeline::Timeline;
use crate::wall_clock::WallClock;
use anyhow::{Result, anyhow, bail};
use base64::{Engine, prelude::BASE64_STANDARD};
use breaths::Breaths;
use panel::{Group, WIDTH};
use plotters::prelude::*;
use tidevane::monitor::BreathReport;
use tidevane::signal::Reading;
use wave::Wave;

/// The longest recording that is drawn, in seconds: 30 years.
const LONGEST: f64 = 1e9;
/// A recording this long is drawn in detail from end to end, in seconds.
const ALL_DETAIL: f64 = 12.0;
/// A longer one gets trends, in seconds.
const NO_TRENDS: f64 = 60.0;
const HEAD: i32 = 92;

/// What will be drawn.
#[derive(Default)]
pub(crate) struct Chart {
    wave: Wave,
    breaths: Breaths,
    /// Time of the last sample.
    end: f64,
    shortened: bool,
    lanes: Vec<steps::Lane>,
}

impl Chart {
    pub(crate) fn reading(&mut self, timeline: &Timeline, reading: Reading) {
        self.end = timeline.seconds();
        self.shortened = timeline.is_shortened();
        let (flow, pressure) = (float(reading.flow.to_bits()), float(reading.pressure.to_bits()));
        self.wave.push(self.end, flow, pressure);
    }

    pub(crate) fn breath(&mut self, report: &BreathReport, timeline: &Timeline) {
        self.breaths.push(report, timeline);
    }

    /// The steps of weaning that were taken along the way.
    pub(crate) fn steps(&mut self, steps: &Steps) {
        self.lanes = steps.all.iter().map(steps::Lane::from).collect();
    }

    /// The chart as SVG.
    pub(crate) fn draw(&self, wall: &WallClock) -> Result<String> {
        if self.end > LONGEST {
            bail!("{:.0} s are too long to draw", self.end);
        }
        let groups = self.groups(wall);
        let height = HEAD + groups.iter().map(|(group, _)| group.height()).sum::<i32>();
        let mut svg = String::new();
        {
            let size = (WIDTH.unsigned_abs(), height.unsigned_abs());
            let root = SVGBackend::with_string(&mut svg, size).into_drawing_area();
            root.fill(&WHITE).map_err(failed)?;
            style::legend(&root)?;
            let mut top = HEAD;
            for (group, draw) in groups {
                draw(self, &group, &root, top)?;
                top += group.height();
            }
            root.present().map_err(failed)?;
        }
        Ok(svg)
    }

    /// A drawn chart as the last section of a Markdown text.
    pub(crate) fn as_markdown(svg: &str) -> String {
        let data = BASE64_STANDARD.encode(svg);
        let alt = "Flow, pressure and breaths of the recording, as trends and at its end";
        format!("\n## Chart\n\n![{alt}](data:image/svg+xml;base64,{data})\n")
    }

    /// What is drawn of a recording of this length, from top to bottom.
    fn groups(&self, wall: &WallClock) -> Vec<(Group, Draw)> {
        let to = self.end.max(1.0);
        let all = |title: &str, heights| Group::new(title, heights, 0.0..to, wall, self.shortened);
        if to <= ALL_DETAIL {
            return vec![(all("The whole recording", &detail::HEIGHTS), detail::draw as Draw)];
        }
        let end = Group::new(
            "The last 10 s",
            &detail::HEIGHTS,
            (to - detail::SHOWN)..to,
            wall,
            self.shortened,
        );
        let whole: (Group, Draw) = if to <= NO_TRENDS {
            (all("The whole recording", &trends::WAVES), trends::draw_waves)
        } else {
            (all("The whole recording", &trends::HEIGHTS), trends::draw)
        };
        vec![whole, (end, detail::draw)]
    }
}

type Draw = fn(&Chart, &Group, &style::Area<'_>, i32) -> Result<()>;

fn failed(error: impl std::fmt::Display) -> anyhow::Error {
    anyhow!("{error}")
}
