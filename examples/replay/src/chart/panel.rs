//! Panels that share one axis of time.

use super::failed;
use super::style::{self, Area, INK, Side};
use crate::wall_clock::WallClock;
use anyhow::Result;
use plotters::coord::types::RangedCoordf64;
use plotters::prelude::*;
use std::ops::Range;

pub(super) const WIDTH: i32 = 1_400;
const LEFT: i32 = 90;
const RIGHT: i32 = 24;
const HEADING: i32 = 34;
const CAPTION: i32 = 24;
const BELOW: i32 = 8;
const AXIS: i32 = 56;

/// Panels one below the other under a heading, with the axis of time at their foot.
pub(super) struct Group {
    title: String,
    heights: Vec<i32>,
    time: Range<f64>,
    ticks: Vec<(f64, String)>,
    label: String,
}

impl Group {
    pub(super) fn new(
        title: &str,
        heights: &[i32],
        time: Range<f64>,
        wall: &WallClock,
        shortened: bool,
    ) -> Self {
        let shortened = if shortened { "; silences shortened" } else { "" };
        let label = format!("Time: {}{shortened}", wall.name());
        let ticks = wall.ticks_between(time.start, time.end);
        Self { title: title.into(), heights: heights.into(), time, ticks, label }
    }

    pub(super) fn height(&self) -> i32 {
        HEADING + self.heights.iter().sum::<i32>() + AXIS
    }

    pub(super) fn heading(&self, root: &Area<'_>, top: i32) -> Result<()> {
        style::text(root, &self.title, (LEFT, top + HEADING / 2), 21, Side::Right)
    }

    pub(super) fn time(&self) -> Range<f64> {
        self.time.clone()
    }

    /// The panel of a place, counted from the top.
    pub(super) fn panel<'a, 'b>(
        &self,
        root: &'a Area<'b>,
        top: i32,
        place: usize,
        caption: &str,
        y: Option<(f64, f64)>,
    ) -> Result<Panel<'a, 'b>> {
        let upper = top + HEADING + self.heights[..place].iter().sum::<i32>();
        let foot = if place + 1 == self.heights.len() { AXIS - BELOW } else { 0 };
        let height = self.heights[place] - CAPTION - BELOW + foot;
        style::text(root, caption, (LEFT, upper + CAPTION / 2), 17, Side::Right)?;
        let strip = root.clone().shrink((0, upper + CAPTION), (WIDTH, height));
        let (low, high) = y.unwrap_or((0.0, 1.0));
        let mut chart = ChartBuilder::on(&strip)
            .margin_right(RIGHT)
            .set_label_area_size(LabelAreaPosition::Left, LEFT)
            .set_label_area_size(LabelAreaPosition::Bottom, foot)
            .build_cartesian_2d(self.time(), low..high)
            .map_err(failed)?;
        let mut mesh = chart.configure_mesh();
        mesh.light_line_style(TRANSPARENT)
            .bold_line_style(BLACK.mix(0.12))
            .axis_style(INK.mix(0.6))
            .disable_x_mesh()
            .x_labels(0)
            .y_labels(if y.is_some() { 7 } else { 0 })
            .y_label_formatter(&|v| tick(*v))
            .label_style(("sans-serif", 16, &INK))
            .axis_desc_style(("sans-serif", 17, &INK));
        if y.is_none() {
            mesh.disable_mesh().disable_axes();
        }
        if foot > 0 {
            mesh.x_desc(&self.label);
        }
        mesh.draw().map_err(failed)?;
        let panel = Panel { root, chart };
        let (_, edges) = panel.edges();
        for (at, told) in &self.ticks {
            let (x, _) = panel.at((*at, low));
            if y.is_some() {
                panel.upright(x, BLACK.mix(0.12))?;
            }
            if foot > 0 {
                style::text(root, told, (x, edges.end + 14), 16, Side::Middle)?;
            }
        }
        Ok(panel)
    }
}

/// A number without needless decimals.
fn tick(value: f64) -> String {
    format!("{}", (value * 1e4).round() / 1e4 + 0.0)
}

/// One panel; times are in seconds.
pub(super) struct Panel<'a, 'b> {
    pub(super) root: &'a Area<'b>,
    chart: ChartContext<'a, SVGBackend<'b>, Cartesian2d<RangedCoordf64, RangedCoordf64>>,
}

impl Panel<'_, '_> {
    /// Where a time and a value stand in the picture.
    pub(super) fn at(&self, (time, value): (f64, f64)) -> (i32, i32) {
        self.chart.plotting_area().map_coordinate(&(time, value))
    }

    /// Left, right, upper and lower edge.
    pub(super) fn edges(&self) -> (Range<i32>, Range<i32>) {
        self.chart.plotting_area().get_pixel_range()
    }

    /// A line from top to bottom.
    fn upright(&self, x: i32, colour: RGBAColor) -> Result<()> {
        let (_, edges) = self.edges();
        let line = PathElement::new(vec![(x, edges.start), (x, edges.end)], colour);
        self.root.draw(&line).map_err(failed)
    }

    pub(super) fn line(
        &self,
        points: impl IntoIterator<Item = (f64, f64)>,
        colour: RGBColor,
    ) -> Result<()> {
        let points: Vec<_> = points.into_iter().map(|p| self.at(p)).collect();
        style::line(self.root, points, colour, 1)
    }

    /// What lies between two curves of steps, given as start, end, lowest and highest of each.
    pub(super) fn band(&self, columns: &[[f64; 4]]) -> Result<()> {
        for run in columns.chunk_by(|one, next| next[0] <= one[1]) {
            let steps = |of: usize| {
                run.iter().flat_map(move |c| [self.at((c[0], c[of])), self.at((c[1], c[of]))])
            };
            let (low, high): (Vec<_>, Vec<_>) = (steps(2).collect(), steps(3).collect());
            let around: Vec<_> = high.iter().chain(low.iter().rev()).copied().collect();
            self.root.draw(&Polygon::new(around, style::PALE.filled())).map_err(failed)?;
            style::line(self.root, high, INK, 1)?;
            style::line(self.root, low, INK, 1)?;
        }
        Ok(())
    }

    /// Words in the middle, where there is nothing to draw.
    pub(super) fn nothing(&self, words: &str) -> Result<()> {
        let (x, y) = self.edges();
        let middle = (i32::midpoint(x.start, x.end), i32::midpoint(y.start, y.end));
        style::text(self.root, words, middle, 17, Side::Middle)
    }
}

/// From the lowest to the highest of some values and 0, with room around them.
pub(super) fn range(values: impl IntoIterator<Item = f64>, least: f64) -> Option<(f64, f64)> {
    let (low, high) =
        values.into_iter().fold((0.0_f64, least), |(low, high), v| (low.min(v), high.max(v)));
    let pad = (high - low) * 0.06;
    Some((if low < 0.0 { low - pad } else { low }, high + pad))
}
