//! How large breaths are, by kind, and what a low-volume alarm at each level would do.

use super::derived::BELOW_TUBE;
use super::held::Held;
use super::plot::{Plot, Side, kind_class, rounds};
use crate::config::Setup;
use crate::figures::Summary;
use crate::report::limits;
use crate::row::Row;
use crate::text::{KINDS, decimals, kind_name};
use maud::{Markup, html};
use tidevane::alarm::BreathKind;

/// How high the bars of a kind are, and a name over them.
const BARS_HIGH: u32 = 56;
const LANE: u32 = 14;
/// So many bars from nothing to the largest,
const BARS: usize = 48;
/// and so many levels tried.
const LEVELS: usize = 40;
/// Levels are tried on the last hour.
const TRIED: f64 = 3_600.0;

/// The largest volume drawn.
fn most(summary: &Summary) -> f64 {
    let volumes = summary.trusted().map(|row| row.expired_ml);
    crate::spread::quantile(volumes, 0.999).unwrap_or(1.0).max(1.0) * 1.1
}

/// Each kind's volumes, to its own height.
pub(super) fn histogram(summary: &Summary, setup: &Setup) -> Markup {
    let most = most(summary);
    let space = summary.kg().map(|kg| BELOW_TUBE * kg).zip(summary.dead_space_ml());
    let ticks: Vec<_> = rounds((0.0, most), 6).into_iter().map(|v| (v, decimals(v, 0))).collect();
    let of = |kind: BreathKind| summary.trusted().filter(move |row| row.whose == kind);
    let seen: Vec<_> = KINDS.into_iter().filter(|kind| of(*kind).next().is_some()).collect();
    let Some(last) = seen.last().copied() else { return html! { p.none { "No trusted breath." } } };
    let row = |kind: BreathKind| {
        let class = kind_class(kind);
        let mut bars = [0.0_f64; BARS];
        for row in of(kind) {
            let place = row.expired_ml / most * BARS as f64;
            if let Some(bar) = bars.get_mut(place.max(0.0) as usize) {
                *bar += 1.0;
            }
        }
        let highest = bars.iter().copied().fold(1.0, f64::max);
        // A lane of names over the bars for each line and for the dead space.
        let held = Held::against(summary, setup, kind);
        let lanes = LANE * (held.len() as u32 + u32::from(space.is_some()));
        let top = highest * f64::from(BARS_HIGH + lanes) / f64::from(BARS_HIGH);
        let mut plot = Plot::new((0.0, most), (0.0, top), BARS_HIGH + lanes);
        if let Some((below_tube, whole)) = space {
            plot.band("published", (below_tube, whole), (0.0, top));
            let middle = 50.0 * (below_tube + whole) / most;
            plot.words_at("tick", middle, f64::from(lanes) - 3.0, Side::Middle, "dead space");
        }
        let wide = most / BARS as f64;
        for (i, bar) in bars.iter().enumerate().filter(|(_, bar)| **bar > 0.0) {
            let across = (i as f64 * wide, (i as f64 + 0.9) * wide);
            plot.band(&format!("bar {class}"), across, (0.0, *bar));
        }
        plot.upright("tried level", most / 2.0);
        let named = held.iter().enumerate();
        let told: String = named.map(|(lane, held)| held.draw(&mut plot, lane, most)).collect();
        if kind == last {
            plot.ticks(&ticks, "expired volume at the sensor, mL");
        }
        let (name, n) = (kind_name(kind), of(kind).count());
        let title = format!("Volumes of {name} breaths");
        html! {
            .row {
                .label { (name) small { (n) " breaths" } }
                (plot.svg(&format!("hist-{class}"), &title, &format!("{n} breaths{told}")))
            }
        }
    };
    html! {
        figure {
            @for kind in seen { (row(kind)) }
            figcaption {
                "Each kind to its own height. Pale: the anatomical dead space, from what of it lies below a tube to \
                 the whole. Named lines: the alarm that is set, the level that is advised, and the target of \
                 inflations, which is held against the volume in the lung where that is known. Dotted: the alarm \
                 level tried below."
            }
        }
    }
}

/// What an alarm at a level would have done in the last hour.
pub(super) struct Tried {
    pub(super) level: f64,
    pub(super) rings_an_hour: f64,
    pub(super) ringing: f64,
    pub(super) under: f64,
}

pub(super) fn tried(summary: &Summary) -> Vec<Tried> {
    let from = (summary.seconds - TRIED).max(0.0);
    let rows: Vec<Row> = summary.trusted_since(from).collect();
    let hours = (summary.seconds - from) / 3_600.0;
    if rows.is_empty() || hours <= 0.0 {
        return Vec::new();
    }
    let most = most(summary);
    let level = |i: usize| {
        let level = most * (i + 1) as f64 / LEVELS as f64;
        let rings = limits::rings(rows.iter().copied(), |row| Some(row.expired_ml < level));
        let ringing: f64 = rings.iter().map(|(from, to)| to - from).sum();
        Tried {
            level,
            rings_an_hour: rings.len() as f64 / hours,
            ringing: 100.0 * ringing / (3_600.0 * hours),
            under: 100.0 * rows.iter().filter(|row| row.expired_ml < level).count() as f64
                / rows.len() as f64,
        }
    };
    (0..LEVELS).map(level).collect()
}

/// Rings an hour by level, and the share of the time that it rings.
pub(super) fn rings(summary: &Summary, tried: &[Tried]) -> Markup {
    if tried.is_empty() {
        return html! {};
    }
    let most = most(summary);
    let highest = tried.iter().map(|t| t.rings_an_hour).fold(1.0, f64::max);
    let mut plot = Plot::new((0.0, most), (0.0, highest), 120);
    plot.area("shade alert", tried.iter().map(|t| Some([t.level, 0.0, t.rings_an_hour])));
    plot.line("line alert", tried.iter().map(|t| Some((t.level, t.rings_an_hour))));
    plot.line("dashed", tried.iter().map(|t| Some((t.level, highest * t.ringing / 100.0))));
    plot.upright("tried level", most / 2.0);
    plot.scale("0", &format!("{} rings an hour", decimals(highest, 0)));
    plot.words_at("tick", 100.0, 10.0, Side::Right, "dashed: share of the time, to 100 %");
    let ticks: Vec<_> = rounds((0.0, most), 6).into_iter().map(|v| (v, decimals(v, 0))).collect();
    plot.ticks(&ticks, "alarm level, mL expired");
    let quiet = tried.iter().take_while(|t| t.rings_an_hour == 0.0).last();
    let quietest = tried.iter().take_while(|t| t.rings_an_hour == 0.0).count().saturating_sub(1);
    let desc = quiet.map_or("every level tried would have rung".into(), |t| {
        format!("up to {} mL none would have rung", decimals(t.level, 1))
    });
    html! {
        figure {
            (plot.svg("rings", "Rings an hour by alarm level", &desc))
            .try hidden { label { "Try an alarm level" input type="range" id="try-level" min="0" max=(tried.len() - 1) value=(quietest); } output id="said-level" {} }
            figcaption {
                "One level for all breaths of the last hour, each alarm after 10 s under it. Few rings at a high level \
                 mean that it never stops: the dashed line."
            }
        }
    }
}
