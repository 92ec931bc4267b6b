//! Draws flow, pressure and the volumes of the breaths.
//!
//! Colours: Okabe and Ito's palette for all kinds of colour vision (Color Universal Design, 2008).

use crate::timeline::Timeline;
use anyhow::{Result, anyhow, bail};
use plotters::prelude::*;
use tidevane::breath::{Breath, Kind};
use tidevane::signal::Reading;

const WIDTH: u32 = 1_400;
const HEIGHT: u32 = 960;
/// Enough to fill the width; more are merged in pairs, so memory stays bounded.
const BUCKETS: usize = 4_096;
/// The longest recording that is drawn, in seconds: 30 years.
const LONGEST: f64 = 1e9;

const FLOW: RGBColor = RGBColor(0, 114, 178);
const PRESSURE: RGBColor = RGBColor(213, 94, 0);
const INFLATION: RGBColor = RGBColor(0, 158, 115);
const OWN: RGBColor = RGBColor(204, 121, 167);
const FLAGGED: RGBColor = RGBColor(130, 130, 130);

/// What will be drawn.
#[derive(Default)]
pub(crate) struct Chart {
    buckets: Vec<Bucket>,
    samples_per_bucket: u64,
    breaths: Vec<Dot>,
    /// Time of the last sample.
    end: f64,
    shortened: bool,
}

#[derive(Clone, Copy)]
struct Bucket {
    at: f64,
    samples: u64,
    flow: (f64, f64),
    pressure: (f64, f64),
}

struct Dot {
    at: f64,
    inspired: f64,
    expired: f64,
    kind: Kind,
    flagged: bool,
}

fn float(bits: i32) -> f64 {
    f64::from(bits) / 65_536.0
}

impl Chart {
    pub(crate) fn reading(&mut self, timeline: &Timeline, reading: Reading) {
        self.end = timeline.seconds();
        self.shortened = timeline.is_shortened();
        let (flow, pressure) = (float(reading.flow.to_bits()), float(reading.pressure.to_bits()));
        let one =
            Bucket { at: self.end, samples: 1, flow: (flow, flow), pressure: (pressure, pressure) };
        self.samples_per_bucket = self.samples_per_bucket.max(1);
        match self.buckets.last_mut() {
            Some(last) if last.samples < self.samples_per_bucket => last.join(&one),
            _ => self.buckets.push(one),
        }
        if self.buckets.len() > BUCKETS {
            self.samples_per_bucket *= 2;
            self.buckets = self
                .buckets
                .chunks(2)
                .map(|pair| {
                    let mut joined = pair[0];
                    pair[1..].iter().for_each(|next| joined.join(next));
                    joined
                })
                .collect();
        }
    }

    pub(crate) fn breath(&mut self, breath: &Breath, timeline: &Timeline) {
        self.breaths.push(Dot {
            at: timeline.seconds_at(breath.onset),
            inspired: float(breath.inspired().value.to_bits()),
            expired: float(breath.expired().value.to_bits()),
            kind: breath.kind,
            flagged: !breath.is_trusted(),
        });
    }

    /// The chart as SVG.
    pub(crate) fn draw(&self) -> Result<String> {
        if self.end > LONGEST {
            bail!("{:.0} s are too long to draw", self.end);
        }
        let mut svg = String::new();
        {
            let root = SVGBackend::with_string(&mut svg, (WIDTH, HEIGHT)).into_drawing_area();
            root.fill(&WHITE).map_err(failed)?;
            let panels = root.split_evenly((3, 1));
            let [flow, pressure, volume] = &panels[..] else {
                return Err(anyhow!("three panels expected"));
            };
            self.envelope(flow, "Flow at the airway (mL/s, inward up)", FLOW, |b| b.flow)?;
            self.envelope(pressure, "Airway pressure (cmH2O)", PRESSURE, |b| b.pressure)?;
            self.volumes(volume)?;
            root.present().map_err(failed)?;
        }
        Ok(svg)
    }

    /// The last second, what one unit of the axis is in seconds, and what it is called.
    fn time(&self) -> (f64, f64, String) {
        let to = self.end.max(1.0);
        let (unit, name) = match to {
            _ if to > 7_200.0 => (3_600.0, "h"),
            _ if to > 180.0 => (60.0, "min"),
            _ => (1.0, "s"),
        };
        let shortened = if self.shortened { ", silences shortened" } else { "" };
        (to, unit, format!("Time from the first sample ({name}{shortened})"))
    }

    fn envelope(
        &self,
        area: &DrawingArea<SVGBackend<'_>, plotters::coord::Shift>,
        title: &str,
        colour: RGBColor,
        value: impl Fn(&Bucket) -> (f64, f64),
    ) -> Result<()> {
        let (to, unit, label) = self.time();
        let low = self.buckets.iter().map(|b| value(b).0).fold(0.0, f64::min);
        let high = self.buckets.iter().map(|b| value(b).1).fold(1.0, f64::max);
        let mut chart = panel(area, title, 0.0..(to / unit), padded(low, high), &label)?;
        let line = self.buckets.iter().flat_map(|b| {
            let (low, high) = value(b);
            let points = if b.samples > 1 { vec![low, high] } else { vec![low] };
            points.into_iter().map(move |v| (b.at / unit, v))
        });
        chart.draw_series(LineSeries::new(line, colour.stroke_width(1))).map_err(failed)?;
        Ok(())
    }

    fn volumes(&self, area: &DrawingArea<SVGBackend<'_>, plotters::coord::Shift>) -> Result<()> {
        let (to, unit, label) = self.time();
        let largest = self.breaths.iter().map(|b| b.inspired.max(b.expired));
        let high = largest.fold(1.0, f64::max);
        let low = self.breaths.iter().map(|b| b.inspired.min(b.expired)).fold(0.0, f64::min);
        let title = "Volume of each breath at the sensor (mL): inspired filled, expired open";
        let mut chart = panel(area, title, 0.0..(to / unit), padded(low, high), &label)?;
        for (name, colour, kind) in [
            ("inflation", INFLATION, Some(Kind::Inflation)),
            ("own breath", OWN, Some(Kind::Own)),
            ("flagged", FLAGGED, None),
        ] {
            let belongs = |d: &&Dot| if d.flagged { kind.is_none() } else { kind == Some(d.kind) };
            let dots = || self.breaths.iter().filter(belongs);
            if dots().next().is_none() {
                continue;
            }
            chart
                .draw_series(
                    dots().map(|d| Circle::new((d.at / unit, d.inspired), 3, colour.filled())),
                )
                .map_err(failed)?
                .label(name)
                .legend(move |(x, y)| Circle::new((x + 8, y), 4, colour.filled()));
            chart
                .draw_series(
                    dots()
                        .map(|d| Circle::new((d.at / unit, d.expired), 3, colour.stroke_width(1))),
                )
                .map_err(failed)?;
        }
        chart
            .configure_series_labels()
            .position(SeriesLabelPosition::UpperRight)
            .background_style(WHITE.mix(0.85))
            .border_style(BLACK.mix(0.3))
            .label_font(("sans-serif", 15))
            .draw()
            .map_err(failed)
    }
}

impl Bucket {
    fn join(&mut self, other: &Self) {
        self.samples += other.samples;
        self.flow = (self.flow.0.min(other.flow.0), self.flow.1.max(other.flow.1));
        self.pressure =
            (self.pressure.0.min(other.pressure.0), self.pressure.1.max(other.pressure.1));
    }
}

fn padded(low: f64, high: f64) -> std::ops::Range<f64> {
    let pad = (high - low) * 0.05;
    (low - pad)..(high + pad)
}

type Panel<'a, 'b> = ChartContext<
    'a,
    SVGBackend<'b>,
    Cartesian2d<plotters::coord::types::RangedCoordf64, plotters::coord::types::RangedCoordf64>,
>;

fn panel<'a, 'b>(
    area: &'a DrawingArea<SVGBackend<'b>, plotters::coord::Shift>,
    title: &str,
    x: std::ops::Range<f64>,
    y: std::ops::Range<f64>,
    label: &str,
) -> Result<Panel<'a, 'b>> {
    let mut chart = ChartBuilder::on(area)
        .margin(12)
        .caption(title, ("sans-serif", 18))
        .x_label_area_size(42)
        .y_label_area_size(56)
        .build_cartesian_2d(x, y)
        .map_err(failed)?;
    chart
        .configure_mesh()
        .light_line_style(TRANSPARENT)
        .bold_line_style(BLACK.mix(0.12))
        .x_desc(label)
        .label_style(("sans-serif", 14))
        .axis_desc_style(("sans-serif", 15))
        .draw()
        .map_err(failed)?;
    Ok(chart)
}

fn failed(error: impl std::fmt::Display) -> anyhow::Error {
    anyhow!("{error}")
}
