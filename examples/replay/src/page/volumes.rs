//! How large breaths are, by kind, and what a low-volume alarm at each level would do.

use super::derived::BELOW_TUBE;
use super::plot::{Plot, Side, kind_class, rounds};
use crate::config::Setup;
use crate::figures::{Summary, float};
use crate::report::{levels, limits};
use crate::row::Row;
use crate::text::{KINDS, decimals, kind_name};
use maud::{Markup, html};
use tidevane::alarm::{BreathKind, Level};

/// So many bars from nothing to the largest,
const BARS: usize = 48;
/// and so many levels tried.
const LEVELS: usize = 40;
/// Levels are tried on the last hour.
const TRIED: f64 = 3_600.0;

/// A volume that breaths of a kind are held against: its name, and the stroke it is drawn with.
struct Held {
    name: &'static str,
    class: &'static str,
    ml: f64,
}

impl Held {
    /// The alarm that is set, the level that is advised, and the target of inflations.
    fn against(summary: &Summary, setup: &Setup, kind: BreathKind) -> Vec<Self> {
        let set = summary.settings.alarms().volume(kind).limits();
        let advised = || {
            let advice =
                levels::advice(summary, &setup.bedside, summary.settings.weight()?).ok()?;
            match advice.advise(levels::latest(summary, &advice, kind)?.1, kind) {
                Level::Set { level, .. } => Some(level),
                Level::None(_) => None,
            }
        };
        let proposal = summary.settings.proposal().filter(|_| kind != BreathKind::Own);
        [
            ("target", "held-target", proposal.map(|proposal| proposal.target())),
            ("alarm over", "held-alarm", set.high()),
            ("alarm under", "held-alarm", set.low()),
            ("advised alarm under", "held-advised", advised()),
        ]
        .into_iter()
        .filter_map(|(name, class, ml)| Some(Self { name, class, ml: float(ml?.to_bits()) }))
        .collect()
    }
}

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
        let volumes: Vec<_> = of(kind).map(|row| row.expired_ml).collect();
        let mut bars = [0.0_f64; BARS];
        for volume in &volumes {
            if let Some(bar) = bars.get_mut((volume / most * BARS as f64).max(0.0) as usize) {
                *bar += 1.0;
            }
        }
        let highest = bars.iter().copied().fold(1.0, f64::max);
        let mut plot = Plot::new((0.0, most), (0.0, highest), 72);
        if let Some(space) = space {
            plot.band("published", space, (0.0, highest));
        }
        let wide = most / BARS as f64;
        for (i, bar) in bars.iter().enumerate().filter(|(_, bar)| **bar > 0.0) {
            let across = (i as f64 * wide, (i as f64 + 0.9) * wide);
            plot.band(&format!("bar {class}"), across, (0.0, *bar));
        }
        plot.upright("tried level", most / 2.0);
        let held = Held::against(summary, setup, kind);
        let told = mark(&mut plot, &held, most);
        if kind == last {
            plot.ticks(&ticks, "expired volume at the sensor, mL");
        }
        let (name, n) = (kind_name(kind), volumes.len());
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

/// Draws what a kind is held against, a name on each line, and says it.
fn mark(plot: &mut Plot, held: &[Held], most: f64) -> String {
    let mut told = String::new();
    for (i, Held { name, class, ml }) in held.iter().enumerate() {
        let (words, beyond) = (format!("{name} {} mL", decimals(*ml, 1)), *ml > most);
        let side = if 2.0 * ml > most { Side::Right } else { Side::Left };
        if beyond {
            // What lies beyond the axis has no place on it.
            plot.words_at(
                "held",
                100.0,
                10.0 + 13.0 * i as f64,
                side,
                &format!("{words}, not drawn"),
            );
        } else {
            plot.upright(class, *ml);
            let percent = 100.0 * ml / most + if 2.0 * ml > most { -0.6 } else { 0.6 };
            plot.words_at("held", percent, 10.0 + 13.0 * i as f64, side, &words);
        }
        told += &format!(", {words}");
    }
    told
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
    let rows: Vec<&Row> = summary.trusted().filter(|row| row.onset_s >= from).collect();
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
