//! The median breath of a kind before and after a change: pressure over volume, and flow over volume.

use super::plot::{Plot, Side, rounds};
use super::windows::{Window, Windows};
use crate::figures::Summary;
use crate::row::Row;
use crate::spread::quantile;
use crate::text::{KINDS, decimals, kind_name};
use maud::{Markup, html};
use tidevane::alarm::BreathKind;

/// A breath is told at so many points of its time.
const POINTS: usize = 48;
/// Fewer breaths make no median,
const FEW: usize = 3;
/// and no more single ones are drawn.
const SINGLE: usize = 14;
/// How far before a change, and before the end, breaths are taken from, in seconds.
const REACH: f64 = 600.0;

/// Volume in mL since the onset, pressure and flow, along one breath.
type Loop = Vec<[f64; 3]>;

/// Both figures; words where there are none.
pub(super) fn figure(summary: &Summary, windows: &Windows) -> Markup {
    let steps = &summary.steps.all;
    let began = steps.last().map_or(0.0, |step| step.from_s);
    let of = |kind, from: f64, to| loops(summary, windows, kind, from.max(to - REACH), to);
    let found = KINDS.into_iter().find_map(|kind| {
        let after = of(kind, began, summary.seconds);
        (after.len() >= FEW).then_some((kind, after))
    });
    let Some((kind, after)) = found else {
        return html! { p.none { "No loops: too few whole breaths of one kind in the ten seconds kept of each minute." } };
    };
    // The latest step before this one that had enough of the kind.
    let earlier = steps.iter().rev().skip(1).find_map(|step| {
        let before = of(kind, step.from_s, step.to_s);
        (before.len() >= FEW).then_some((step.to_s, before))
    });
    let (until, before) = earlier.unwrap_or_default();
    let name = kind_name(kind);
    let both = || before.iter().chain(&after);
    let top = |i: usize| both().flatten().map(|p| p[i]).fold(0.0, f64::max) * 1.05;
    let low = |i: usize| both().flatten().map(|p| p[i]).fold(0.0, f64::min) * 1.05;
    let (middle_before, middle_after) = (median(&before), median(&after));
    let caption = format!(
        "Median {name} breath of the last minutes (heavy, {} breaths){}, single breaths behind. Volume is the flow \
         at the sensor summed from the onset: what leaks is in it, so loops do not close.",
        after.len(),
        match middle_before {
            Some(_) =>
                format!(" and of those up to {} (dashed, {})", summary.clock(until), before.len()),
            None => String::new(),
        }
    );
    // Which of volume, pressure and flow stands across and which upright: as loops are drawn at the bedside.
    let draw = |id, title, [x, y]: [usize; 2], units: [&str; 2]| {
        let mut plot = Plot::new((low(x), top(x)), (low(y), top(y)), 220);
        let point = |p: &[f64; 3]| Some((p[x], p[y]));
        for single in after.iter().take(SINGLE) {
            plot.line("thin", single.iter().map(point));
        }
        for (class, middle) in [("dashed", &middle_before), ("heavy", &middle_after)] {
            plot.line(class, middle.iter().flatten().map(point));
        }
        plot.scale(&decimals(low(y), 0), &format!("{} {}", decimals(top(y), 0), units[1]));
        plot.words_at("tick", 100.0, 10.0, Side::Right, title);
        let ticks = rounds((low(x), top(x)), 5).into_iter().map(|v| (v, decimals(v, 0)));
        plot.ticks(&ticks.collect::<Vec<_>>(), units[0]);
        plot.svg(id, title, &caption)
    };
    html! {
        figure {
            .pair {
                (draw("pv", "Volume over pressure", [1, 0], ["cmH2O", "mL"]))
                (draw("fv", "Flow over volume", [0, 2], ["mL since the onset", "mL/s"]))
            }
            figcaption { (caption) }
        }
    }
}

/// The whole breaths of a kind within the windows of a stretch.
fn loops(summary: &Summary, windows: &Windows, kind: BreathKind, from: f64, to: f64) -> Vec<Loop> {
    let within = |w: &&Window| w.from_s >= from && w.from_s < to;
    let mut all = Vec::new();
    for window in windows.minutes.iter().filter(within) {
        let inside = summary.rows.since(window.from_s).take_while(|row| window.holds(row.end_s()));
        for row in inside.filter(|row| row.trusted && row.whose == kind) {
            all.extend(breath(window, &row));
        }
    }
    all
}

/// One breath, told at points evenly over its time.
fn breath(window: &Window, row: &Row) -> Option<Loop> {
    let mut volume = 0.0;
    let mut curve: Vec<(f64, [f64; 3])> = Vec::new();
    for (at, [flow, pressure]) in window.readings() {
        if at < row.onset_s || at > row.end_s() {
            continue;
        }
        if flow.is_nan() {
            return None;
        }
        if let Some((last, [_, _, was])) = curve.last() {
            volume += (at - last) * f64::midpoint(flow, *was);
        }
        curve.push((at, [volume, pressure, flow]));
    }
    if curve.len() < 8 {
        return None;
    }
    let place = |i: usize| i * (curve.len() - 1) / (POINTS - 1);
    Some((0..POINTS).map(|i| curve[place(i)].1).collect())
}

fn median(loops: &[Loop]) -> Option<Loop> {
    if loops.len() < FEW {
        return None;
    }
    let at = |i: usize, what: usize| quantile(loops.iter().map(|l| l[i][what]), 0.5);
    (0..POINTS).map(|i| Some([at(i, 0)?, at(i, 1)?, at(i, 2)?])).collect()
}
