//! Limits for minute volume and rate, and which levels would have rung when they were needed.

use super::levels;
use crate::config::Bedside;
use crate::doc::Doc;
use crate::figures::Summary;
use crate::row::Row;
use crate::spread::quantile;
use crate::steps::Step;
use crate::text::{KINDS, decimals, kind_name, times};
use tidevane::alarm::{BreathKind, Level};

/// Either side of the median: common practice, no source.
const AROUND: f64 = 0.2;
/// An alarm waits this long, in seconds.
const WAIT: f64 = 10.0;
/// Fewer breaths say nothing.
const FEW: usize = 100;

/// What a limit is held against, of a breath.
type Value = fn(&Row) -> Option<f64>;

/// A limit with what it is held against.
struct Limit {
    name: String,
    value: Value,
    limit: f64,
    is_low: bool,
    kind: Option<BreathKind>,
}

impl Limit {
    /// When it would have rung.
    fn rings(&self, summary: &Summary, from_s: f64, to_s: f64) -> Vec<f64> {
        let meant = |row: &Row| self.kind.is_none_or(|kind| kind == row.whose);
        let beyond = |row: &Row| {
            let value = (self.value)(row)?;
            Some(if self.is_low { value < self.limit } else { value > self.limit })
        };
        rings(summary.trusted_between(from_s, to_s).filter(meant), beyond)
            .into_iter()
            .map(|ring| ring.0)
            .collect()
    }
}

/// From when to when something rings that waits: its condition must hold for as long, breath by breath; where it is
/// not known, nothing changes.
pub(crate) fn rings(
    rows: impl Iterator<Item = Row>,
    beyond: impl Fn(&Row) -> Option<bool>,
) -> Vec<(f64, f64)> {
    let (mut since, mut rang, mut rings) = (None, false, Vec::<(f64, f64)>::new());
    for row in rows {
        let Some(is_beyond) = beyond(&row) else { continue };
        if let Some(last) = rings.last_mut().filter(|_| rang) {
            last.1 = row.onset_s;
        }
        if !is_beyond {
            (since, rang) = (None, false);
            continue;
        }
        let begun: f64 = *since.get_or_insert(row.onset_s);
        if !rang && row.onset_s - begun >= WAIT {
            rang = true;
            rings.push((row.onset_s, row.onset_s));
        }
    }
    rings
}

/// Minute volume low and high and rate low and high around the medians of a step.
fn around(summary: &Summary, step: &Step) -> Vec<Limit> {
    let median = |value: Value| {
        let rows = summary.trusted_between(step.from_s, step.to_s);
        let values = rows.filter_map(|row| value(&row));
        (values.clone().take(FEW).count() == FEW).then(|| quantile(values, 0.5)).flatten()
    };
    let mut limits = Vec::new();
    let measures: [(&str, &str, Value); 2] =
        [("minute volume", "mL", |row| row.minute_ml), ("rate", "/min", |row| row.rate)];
    for (what, unit, value) in measures {
        let Some(median) = median(value) else { continue };
        for (is_low, word, factor) in [(true, "under", 1.0 - AROUND), (false, "over", 1.0 + AROUND)]
        {
            let limit = (median * factor).round();
            let name = format!("{what} {word} {} {unit}", decimals(limit, 0));
            limits.push(Limit { name, value, limit, is_low, kind: None });
        }
    }
    limits
}

/// More of its inflations set off by the machine itself make a step's rate and volume nobody's.
const CYCLED: f64 = 0.1;

pub(super) fn is_self_cycled(summary: &Summary, step: &Step) -> bool {
    let rows = || summary.rows.between(step.from_s, step.to_s);
    let cycled = rows().filter(|row| row.self_cycled).count();
    cycled as f64 > CYCLED * rows().count() as f64
}

pub(super) fn advice(doc: &mut Doc, summary: &Summary) {
    let steps = &summary.steps.all;
    let found = steps.iter().enumerate().rev().find_map(|(i, step)| {
        let limits = around(summary, step);
        (!limits.is_empty()).then_some((i + 1, step, limits))
    });
    let Some((n, step, limits)) = found else {
        return doc.say("Limits for minute volume and rate: not known, too few breaths in a row.");
    };
    if step.asked_back().is_some() {
        return doc.say(format!(
            "No limits for minute volume and rate from step {n}: a step back was asked for in it, and what a \
             tiring infant does is no measure."
        ));
    }
    if is_self_cycled(summary, step) {
        return doc.say(format!(
            "No limits for minute volume and rate from step {n}: the machine set more than a tenth of its \
             inflations off by itself."
        ));
    }
    let told: Vec<_> = limits
        .iter()
        .map(|limit| {
            let rings = limit.rings(summary, step.from_s, step.to_s).len();
            format!("{} ({})", limit.name, times(rings as u64))
        })
        .collect();
    doc.say(format!(
        "Limits 20 % either side of the medians of step {n} (common practice, no source), and how often \
         each would have rung in it after 10 s: {}. The medians are what was, not what is needed.",
        told.join(", ")
    ));
}

/// Which of the levels that the step before advises would have rung where a step back was asked for.
pub(super) fn while_asked_back(doc: &mut Doc, summary: &Summary, bedside: &Bedside) {
    let steps = &summary.steps.all;
    for (i, pair) in steps.windows(2).enumerate() {
        let [before, step] = pair else { continue };
        let Some((from, _)) = step.asked_back() else { continue };
        let mut limits = around(summary, before);
        limits.extend(volumes(summary, bedside, i));
        let rang: Vec<_> = limits
            .iter()
            .filter_map(|limit| {
                let first = *limit.rings(summary, step.from_s, step.to_s).first()?;
                Some(format!("{} at {}", limit.name, summary.clock(first)))
            })
            .collect();
        doc.say(format!(
            "Levels as step {} advises them, in step {}, where a step back was asked for from {} on: {}.",
            i + 1,
            i + 2,
            summary.clock(from),
            if rang.is_empty() {
                "none would have rung before its end".into()
            } else {
                format!("{} would have rung", rang.join(", "))
            }
        ));
    }
}

/// Low-volume levels as a step advises them.
fn volumes(summary: &Summary, bedside: &Bedside, step: usize) -> Vec<Limit> {
    let advice =
        summary.settings.weight().and_then(|weight| levels::advice(summary, bedside, weight).ok());
    let (Some(advice), Some(history)) = (advice, summary.volumes.get(step)) else {
        return Vec::new();
    };
    KINDS
        .into_iter()
        .rev()
        .filter_map(|kind| match advice.advise(history, kind) {
            Level::Set { level, .. } => Some(Limit {
                name: format!("{} volume under {level:.1}", kind_name(kind)),
                value: |row| Some(row.expired_ml),
                limit: level.get().to_num(),
                is_low: true,
                kind: Some(kind),
            }),
            Level::None(_) => None,
        })
        .collect()
}
