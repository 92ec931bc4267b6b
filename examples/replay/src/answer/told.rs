//! What was told of the machine held against what was measured of late: where they disagree, one of them is wrong.

use super::late;
use crate::figures::{LATE, Summary};
use crate::row::Row;
use crate::spread::quantile;
use crate::text::decimals;
use tidevane::alarm::BreathKind;
use tidevane::breath::Kind;
use tidevane::quantity::Pressure;

/// Pressures that differ by more than this part and by more than so many cmH2O disagree: chosen here, no source.
const PART: f64 = 0.15;
const LEAST: f64 = 2.0;
/// Fewer inflations than this part of the set rate, too.
const FEWER: f64 = 0.8;

/// Beside support as many inflations as the set rate reach the full peak, and no more: beyond this part, and so many
/// a minute, too. Chosen here, no source.
const MORE: f64 = 1.25;
const MORE_LEAST: f64 = 5.0;

/// In words, where they disagree.
pub(super) fn disagreements(summary: &Summary) -> Vec<String> {
    if late::silence(summary).is_some() {
        return Vec::new();
    }
    let machine = summary.settings.machine();
    let since = summary.steps.all.last().map_or(0.0, |step| step.from_s);
    let rows = || late::rows(summary).filter(move |row| row.onset_s >= since);
    let cmh2o = |told: Option<Pressure>| told.map(|p| p.get().to_num::<f64>());
    let (peak, support) = (cmh2o(machine.peak), cmh2o(machine.support_peak));
    let mut said = Vec::new();
    for (name, told, kind) in
        [("peak", peak, BreathKind::Assured), ("support", support, BreathKind::Supported)]
    {
        let Some(told) = told else { continue };
        let of = |row: &Row| row.whose == kind;
        let apart = |seen: f64| (told - seen).abs() > LEAST.max(PART * told);
        let told = decimals(told, 1);
        if let Some(seen) = middle(rows().filter(of)).filter(|seen| apart(*seen)) {
            said.push(format!("{name} told {told} cmH2O, measured {}", decimals(seen, 1)));
        } else if summary.rows.is_whole()
            // Of the latest breaths alone nothing is said of most of the time.
            && let Some(seen) = middle(summary.trusted_since(since).filter(of))
            && apart(seen)
        {
            said.push(format!(
                "{name} told {told} cmH2O since {}, for the most of that time measured {}",
                summary.clock(since),
                decimals(seen, 1)
            ));
        }
    }
    let minutes = (summary.seconds - since).min(LATE) / 60.0;
    let a_minute =
        |is: &dyn Fn(&Row) -> bool| rows().filter(|row| is(row)).count() as f64 / minutes.max(1.0);
    let told = machine.set_rate.map(|rate| rate.get().to_num::<f64>());
    if let Some(told) = told.filter(|_| minutes >= 1.0) {
        let inflations = a_minute(&|row| row.kind == Kind::Inflation);
        let full = a_minute(&|row| row.whose == BreathKind::Assured);
        let too_few = inflations < FEWER * told;
        let none_told = told == 0.0 && support.is_none() && inflations >= 5.0;
        if too_few || none_told {
            said.push(format!(
                "rate told {}, inflations measured {} a minute",
                decimals(told, 0),
                decimals(inflations, 0)
            ));
        } else if let Some(support) =
            support.filter(|_| full > (MORE * told).max(told + MORE_LEAST))
        {
            said.push(format!(
                "rate told {} and support to {} cmH2O, inflations to the full peak measured {} a minute",
                decimals(told, 0),
                decimals(support, 1),
                decimals(full, 0)
            ));
        }
    }
    said
}

/// The middle peak of breaths that are enough to speak for it.
fn middle(rows: impl Iterator<Item = Row> + Clone) -> Option<f64> {
    let peaks = rows.map(|row| row.peak);
    quantile(peaks.clone(), 0.5).filter(|_| peaks.count() >= late::FEW / 2)
}
