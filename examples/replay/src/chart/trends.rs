//! The whole recording: envelopes, what started the breaths, and what came of them over time.

use super::Chart;
use super::breaths::{Breaths, Spread, Tally};
use super::detail::{marks, verticals};
use super::panel::{Group, Panel, range};
use super::style::{self, Area, INK, Mark, PALE, Side};
use super::wave::{Value, Wave};
use anyhow::Result;
use plotters::prelude::*;

/// Panels without trends.
pub(super) const WAVES: [i32; 3] = [50, 170, 150];
/// Panels with them.
pub(super) const HEIGHTS: [i32; 8] = [150, 150, ROW * 7 + 32, 66, 160, 115, 115, 115];
const ROW: i32 = 19;
/// So many breaths are marked one by one,
const MARKED: usize = 220;
/// and so many get a dot of their own.
const DOTTED: usize = 1_500;

pub(super) fn draw_waves(chart: &Chart, group: &Group, root: &Area<'_>, top: i32) -> Result<()> {
    group.heading(root, top)?;
    let onsets: Vec<_> = chart.breaths.recent().collect();
    let lane = group.panel(root, top, 0, "Breaths, each at its onset", None)?;
    for panel in waves(chart, group, root, top, 1)? {
        verticals(&panel, &onsets)?;
    }
    marks(&lane, &onsets)
}

pub(super) fn draw(chart: &Chart, group: &Group, root: &Area<'_>, top: i32) -> Result<()> {
    group.heading(root, top)?;
    waves(chart, group, root, top, 0)?;
    let bins = chart.breaths.bins(chart.end);
    let per = length(Breaths::bin(chart.end));
    started(chart, &bins, &per, (group, root, top))?;
    super::steps::draw(&group.panel(root, top, 3, super::steps::CAPTION, None)?, &chart.lanes)?;
    volumes(chart, &bins, &per, (group, root, top))?;
    let percent = |share: Option<f64>| share.map(|s| 100.0 * s);
    let leak = |tally: &Tally| percent(tally.leak.mean());
    let own = |tally: &Tally| percent(tally.own_share());
    let caption =
        format!("Leak, % of the inspired volume over the last unflagged breaths: mean per {per}");
    steps(&bins, leak, &group.panel(root, top, 5, &caption, reach(&bins, leak, 10.0))?)?;
    let caption = format!("Rate, breaths/min: mean per {per}");
    let rate = Tally::rate;
    steps(&bins, rate, &group.panel(root, top, 6, &caption, reach(&bins, rate, 10.0))?)?;
    let caption = format!("Own breaths, % of the expired volume: per {per}, unflagged breaths");
    steps(&bins, own, &group.panel(root, top, 7, &caption, Some((0.0, 105.0)))?)
}

/// Flow and pressure in two panels from a place on.
fn waves<'a, 'b>(
    chart: &Chart,
    group: &Group,
    root: &'a Area<'b>,
    top: i32,
    place: usize,
) -> Result<[Panel<'a, 'b>; 2]> {
    let column = Wave::column(chart.end);
    let how = column.map_or_else(String::new, |c| format!(": lowest to highest per {}", length(c)));
    let draw = |place, caption: &str, value: Value| -> Result<Panel<'a, 'b>> {
        let caption = format!("{caption}{how}");
        let line = chart.wave.line(value);
        let y = range(line.iter().map(|p| p.1), 1.0);
        let panel = group.panel(root, top, place, &caption, y)?;
        match column {
            None => panel.line(line, INK)?,
            Some(width) => panel.band(&chart.wave.envelope(width, chart.end, value))?,
        }
        Ok(panel)
    };
    Ok([
        draw(place, "Flow at the airway, mL/s (inward up)", |b| b.flow)?,
        draw(place + 1, "Airway pressure, cmH2O", |b| b.pressure)?,
    ])
}

type Bins = [(f64, f64, Tally)];
type Place<'c, 'a, 'b> = (&'c Group, &'a Area<'b>, i32);

/// One row for each cause, own breaths and flagged breaths.
fn started(chart: &Chart, bins: &Bins, per: &str, (group, root, top): Place) -> Result<()> {
    let each = chart.breaths.each(MARKED);
    let caption = match each {
        Some(_) => "Breaths by what started them".to_owned(),
        None => format!(
            "Breaths by what started them: the fuller a row, the larger the share of \
             the breaths per {per}"
        ),
    };
    let panel = group.panel(root, top, 2, &caption, None)?;
    let (sides, edges) = panel.edges();
    for row in 0..=Mark::ALL.len() {
        let mark = Mark::ALL.get(row).copied();
        let share = |t: &Tally| mark.map_or(t.flagged, |m| t.marks[m as usize]) / t.count;
        let height = (edges.end - edges.start) / 7;
        let foot = edges.start + height * (row as i32 + 1);
        let middle = foot - height / 2;
        style::line(root, vec![(sides.start, foot), (sides.end, foot)], PALE, 1)?;
        let name = mark.map_or("flagged", Mark::name);
        style::text(root, name, (sides.start - 10, middle), 16, Side::Left)?;
        let draw = |at: (i32, i32)| match mark {
            Some(mark) => mark.draw(root, at, 4),
            None => style::cross(root, at, 4),
        };
        if let Some(each) = each {
            for breath in each.iter().filter(|breath| share(breath) > 0.0) {
                let x = panel.at((breath.from, 0.0)).0;
                draw((x.clamp(sides.start + 5, sides.end - 5), middle))?;
            }
            continue;
        }
        let colour = mark.map_or(INK, Mark::colour);
        for (from, to, tally) in bins.iter().filter(|bin| share(&bin.2) > 0.0) {
            let full = (share(tally) * f64::from(height - 3)).ceil() as i32;
            let (left, right) = (panel.at((*from, 0.0)).0, panel.at((*to, 0.0)).0);
            let bar = [(left, foot - full), (right.max(left + 1), foot)];
            root.draw(&Rectangle::new(bar, colour.filled())).map_err(super::failed)?;
        }
    }
    Ok(())
}

/// Expired volume of the breaths: each, or mean and range.
fn volumes(chart: &Chart, bins: &Bins, per: &str, (group, root, top): Place) -> Result<()> {
    let each = chart.breaths.each(DOTTED);
    let what = match each {
        Some(_) => "each unflagged breath".to_owned(),
        None => format!("mean and range per {per}, unflagged breaths"),
    };
    let single: Vec<_> = each.iter().flat_map(|e| e.iter()).map(|t| (t.from, *t)).collect();
    let shown = match each {
        Some(_) => single,
        None => bins.iter().map(|(from, to, t)| (f64::midpoint(*from, *to), *t)).collect(),
    };
    let highs = shown.iter().flat_map(|(_, t)| [t.inflations.high, t.own.high]);
    let lows = shown.iter().flat_map(|(_, t)| [t.inflations.low, t.own.low]);
    let y = range(highs.chain(lows).filter(|v| v.is_finite()), 1.0);
    let panel = group.panel(root, top, 4, &format!("Expired volume, mL: {what}"), y)?;
    let (sides, edges) = panel.edges();
    let key = edges.start - 12;
    style::plus(root, (sides.end - 210, key), 4)?;
    style::text(root, "inflation", (sides.end - 198, key), 16, Side::Right)?;
    Mark::Own.draw(root, (sides.end - 100, key), 3)?;
    style::text(root, "own breath", (sides.end - 90, key), 16, Side::Right)?;
    for (inflation, of) in [(true, inflations as fn(&Tally) -> Spread), (false, own)] {
        for (at, tally) in &shown {
            let spread = of(tally);
            let Some(mean) = spread.mean() else { continue };
            let mut place = panel.at((*at, mean));
            if each.is_none() {
                let (colour, aside) = if inflation { (PALE, -1) } else { (Mark::Own.colour(), 2) };
                place.0 += aside;
                let ends = [spread.low, spread.high].map(|v| (place.0, panel.at((*at, v)).1));
                style::line(root, ends.into(), colour, 1)?;
            }
            if inflation {
                style::plus(root, place, 3)?;
            } else {
                Mark::Own.draw(root, place, 2)?;
            }
        }
    }
    if shown.iter().all(|(_, t)| t.inflations.mean().is_none() && t.own.mean().is_none()) {
        panel.nothing("No unflagged breath")?;
    }
    Ok(())
}

fn inflations(tally: &Tally) -> Spread {
    tally.inflations
}

fn own(tally: &Tally) -> Spread {
    tally.own
}

fn reach(bins: &Bins, of: impl Fn(&Tally) -> Option<f64>, least: f64) -> Option<(f64, f64)> {
    range(bins.iter().filter_map(|bin| of(&bin.2)), least)
}

/// One step for each bin, broken where nothing is known.
fn steps(bins: &Bins, of: impl Fn(&Tally) -> Option<f64>, panel: &Panel<'_, '_>) -> Result<()> {
    let mut run: Vec<(f64, f64)> = Vec::new();
    let mut any = false;
    for (from, to, tally) in bins {
        let value = of(tally);
        if value.is_none() || run.last().is_some_and(|last| last.0 < *from) {
            panel.line(std::mem::take(&mut run), INK)?;
        }
        if let Some(value) = value {
            run.extend([(*from, value), (*to, value)]);
            any = true;
        }
    }
    panel.line(run, INK)?;
    if any { Ok(()) } else { panel.nothing("Not known") }
}

/// A length of time in words.
fn length(seconds: f64) -> String {
    let (value, unit) = match seconds {
        s if s >= 3_600.0 => (s / 3_600.0, "h"),
        s if s >= 60.0 => (s / 60.0, "min"),
        s => (s, "s"),
    };
    let text = format!("{value:.1}");
    format!("{} {unit}", text.trim_end_matches(".0"))
}
