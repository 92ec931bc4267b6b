//! Marks, colours and text.
//!
//! Colours: Okabe and Ito's palette for all kinds of colour vision (Color Universal Design, 2008).
//! No two marks have the same shape, so that colour is never the only cue.

use super::failed;
use anyhow::Result;
use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};
use tidevane::monitor::BreathReport;
use tidevane::trigger::Cause;

pub(super) type Area<'b> = DrawingArea<SVGBackend<'b>, Shift>;

pub(super) const INK: RGBColor = RGBColor(50, 50, 50);
pub(super) const PALE: RGBColor = RGBColor(190, 190, 190);

/// What a breath is: the cause of an inflation, or an own breath.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Mark {
    Timed,
    Effort,
    SelfLeak,
    SelfRipple,
    Unknown,
    Own,
}

impl Mark {
    pub(super) const ALL: [Self; 6] =
        [Self::Timed, Self::Effort, Self::SelfLeak, Self::SelfRipple, Self::Unknown, Self::Own];

    pub(super) fn of(report: &BreathReport) -> Self {
        match report.initiation.map(|initiation| initiation.cause) {
            None => Self::Own,
            Some(Cause::Timed) => Self::Timed,
            Some(Cause::Effort) => Self::Effort,
            Some(Cause::SelfLeak) => Self::SelfLeak,
            Some(Cause::SelfRipple) => Self::SelfRipple,
            Some(Cause::Unknown(_)) => Self::Unknown,
        }
    }

    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Timed => "timed",
            Self::Effort => "effort",
            Self::SelfLeak => "self-leak",
            Self::SelfRipple => "self-ripple",
            Self::Unknown => "unknown",
            Self::Own => "own",
        }
    }

    pub(super) fn colour(self) -> RGBColor {
        match self {
            Self::Timed => RGBColor(0, 114, 178),
            Self::Effort => RGBColor(0, 158, 115),
            Self::SelfLeak => RGBColor(213, 94, 0),
            Self::SelfRipple => RGBColor(230, 159, 0),
            Self::Unknown => INK,
            Self::Own => RGBColor(204, 121, 167),
        }
    }

    pub(super) fn draw(self, area: &Area<'_>, (x, y): (i32, i32), r: i32) -> Result<()> {
        let corners = match self {
            Self::Timed => vec![(x - r, y - r), (x + r, y - r), (x + r, y + r), (x - r, y + r)],
            Self::Effort => vec![(x, y - r), (x + r, y + r), (x - r, y + r)],
            Self::SelfLeak => vec![(x, y - r - 1), (x + r + 1, y), (x, y + r + 1), (x - r - 1, y)],
            Self::SelfRipple => vec![(x - r, y - r), (x + r, y - r), (x, y + r)],
            Self::Unknown => {
                let ring = Circle::new((x, y), r, self.colour().stroke_width(1));
                return area.draw(&ring).map_err(failed);
            }
            Self::Own => {
                let dot = Circle::new((x, y), r, self.colour().filled());
                return area.draw(&dot).map_err(failed);
            }
        };
        area.draw(&Polygon::new(corners, self.colour().filled())).map_err(failed)
    }
}

/// The mark of a flagged breath: a cross.
pub(super) fn cross(area: &Area<'_>, (x, y): (i32, i32), r: i32) -> Result<()> {
    line(area, vec![(x - r, y - r), (x + r, y + r)], INK, 2)?;
    line(area, vec![(x - r, y + r), (x + r, y - r)], INK, 2)
}

/// The mark of an inflation whatever its cause: a plus.
pub(super) fn plus(area: &Area<'_>, (x, y): (i32, i32), r: i32) -> Result<()> {
    line(area, vec![(x - r, y), (x + r, y)], INK, 1)?;
    line(area, vec![(x, y - r), (x, y + r)], INK, 1)
}

pub(super) fn line(
    area: &Area<'_>,
    points: Vec<(i32, i32)>,
    colour: RGBColor,
    width: u32,
) -> Result<()> {
    if points.len() < 2 {
        return Ok(());
    }
    area.draw(&PathElement::new(points, colour.stroke_width(width))).map_err(failed)
}

/// Where a text stands from its point, half as high.
#[derive(Clone, Copy)]
pub(super) enum Side {
    Left,
    Right,
    Middle,
}

pub(super) fn text(
    area: &Area<'_>,
    words: &str,
    at: (i32, i32),
    size: i32,
    side: Side,
) -> Result<()> {
    let h_pos = match side {
        Side::Left => HPos::Right,
        Side::Right => HPos::Left,
        Side::Middle => HPos::Center,
    };
    let style = ("sans-serif", size, &INK).into_text_style(area).pos(Pos::new(h_pos, VPos::Center));
    area.draw_text(words, &style, at).map_err(failed)
}

/// The head of the chart.
pub(super) fn legend(area: &Area<'_>) -> Result<()> {
    text(area, "Flow, airway pressure and breaths at the sensor", (90, 26), 24, Side::Right)?;
    text(area, "Advisory only; not a medical device.", (1_376, 26), 16, Side::Left)?;
    let y = 62;
    text(area, "Inflation started by", (90, y), 17, Side::Right)?;
    let mut x = 240;
    for mark in Mark::ALL {
        if mark == Mark::Own {
            x += 40;
        }
        mark.draw(area, (x, y), 6)?;
        let name = match mark {
            Mark::Timed => "the timer (timed)",
            Mark::Effort => "the infant (effort)",
            Mark::Own => "own breath",
            Mark::SelfLeak | Mark::SelfRipple | Mark::Unknown => mark.name(),
        };
        text(area, name, (x + 14, y), 17, Side::Right)?;
        x += if matches!(mark, Mark::Timed | Mark::Effort) { 170 } else { 125 };
    }
    cross(area, (x + 10, y), 7)?;
    text(area, "flagged, in addition", (x + 26, y), 17, Side::Right)
}
