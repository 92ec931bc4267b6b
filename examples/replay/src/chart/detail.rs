//! The last seconds, with each breath.

use super::Chart;
use super::breaths::Onset;
use super::panel::{Group, Panel, range};
use super::style::{self, Area, INK, PALE, Side};
use super::wave::Sample;
use anyhow::Result;

/// How much is shown, in seconds.
pub(super) const SHOWN: f64 = 10.0;
pub(super) const HEIGHTS: [i32; 4] = [50, 170, 150, 150];
/// No volume is summed over a longer step, in seconds.
const LONGEST_STEP: f64 = 0.5;
/// A name beside a mark needs so many pixels.
const NAME: i32 = 95;

pub(super) fn draw(chart: &Chart, group: &Group, root: &Area<'_>, top: i32) -> Result<()> {
    group.heading(root, top)?;
    let shown = group.time();
    let onsets: Vec<_> = chart.breaths.recent().filter(|b| shown.contains(&b.at)).collect();
    let samples: Vec<_> = chart.wave.recent().filter(|s| s.at >= shown.start).collect();
    let volumes = volumes(chart, shown.start);
    let flow = range(samples.iter().map(|s| s.flow), 1.0);
    let pressure = range(samples.iter().map(|s| s.pressure), 1.0);
    let volume = range(volumes.iter().flatten().map(|p| p.1), 1.0);
    let lane = group.panel(root, top, 0, "Breaths, each at its onset", None)?;
    let flows = group.panel(root, top, 1, "Flow at the airway, mL/s (inward up)", flow)?;
    let pressures = group.panel(root, top, 2, "Airway pressure, cmH2O", pressure)?;
    let caption = "Volume since the onset of the breath, mL (flow as recorded, leak included)";
    let inside = group.panel(root, top, 3, caption, volume)?;
    for panel in [&flows, &pressures, &inside] {
        verticals(panel, &onsets)?;
    }
    let curve = |value: fn(&Sample) -> f64| samples.iter().map(move |s| (s.at, value(s)));
    flows.line(curve(|s| s.flow), INK)?;
    pressures.line(curve(|s| s.pressure), INK)?;
    for breath in volumes {
        inside.line(breath, INK)?;
    }
    marks(&lane, &onsets)
}

/// Pale lines where breaths begin.
pub(super) fn verticals(panel: &Panel<'_, '_>, onsets: &[Onset]) -> Result<()> {
    let (_, edges) = panel.edges();
    onsets.iter().try_for_each(|breath| {
        let (x, _) = panel.at((breath.at, 0.0));
        style::line(panel.root, vec![(x, edges.start), (x, edges.end)], PALE, 1)
    })
}

/// The marks of the breaths, with their names where there is room.
pub(super) fn marks(lane: &Panel<'_, '_>, onsets: &[Onset]) -> Result<()> {
    let (sides, _) = lane.edges();
    let places: Vec<_> = onsets.iter().map(|breath| lane.at((breath.at, 0.5))).collect();
    let ends = places.iter().skip(1).map(|p| p.0).chain([sides.end + 10]);
    let named = places.iter().zip(ends.clone().take(places.len().saturating_sub(1)));
    let named = named.into_iter().all(|(place, end)| end - place.0 >= NAME);
    for ((breath, &(x, y)), end) in onsets.iter().zip(&places).zip(ends) {
        let x = x.clamp(sides.start + 6, sides.end - 6);
        breath.mark.draw(lane.root, (x, y), 5)?;
        if breath.flagged {
            style::cross(lane.root, (x, y), 8)?;
        }
        if named && end - x >= NAME {
            style::text(lane.root, breath.mark.name(), (x + 13, y), 16, Side::Right)?;
        }
    }
    Ok(())
}

/// Flow summed since the onset of each breath, as far as it is shown.
fn volumes(chart: &Chart, from: f64) -> Vec<Vec<(f64, f64)>> {
    let samples: Vec<_> = chart.wave.recent().collect();
    let first = samples.first().map_or(0.0, |s| s.at);
    let mut curves = Vec::new();
    for breath in chart.breaths.recent().filter(|b| b.at >= first && b.end > from) {
        let begin = samples.partition_point(|s| s.at < breath.at);
        let end = samples.partition_point(|s| s.at <= breath.end).max(begin);
        let mut sum = 0.0;
        let mut curve = vec![(breath.at, sum)];
        for pair in samples[begin..end].windows(2) {
            let step = pair[1].at - pair[0].at;
            if step > LONGEST_STEP {
                break;
            }
            sum += step * f64::midpoint(pair[0].flow, pair[1].flow);
            curve.push((pair[1].at, sum));
        }
        curve.retain(|point| point.0 >= from);
        curves.push(curve);
    }
    curves
}
