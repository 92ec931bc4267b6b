//! What was told of the machine held against what was measured of late: where they disagree, one of them is wrong.

use super::late;
use crate::figures::{LATE, Summary};
use crate::row::Row;
use crate::spread::quantile;
use crate::text::decimals;
use tidevane::alarm::BreathKind;
use tidevane::breath::Kind;

/// Pressures that differ by more than this part and by more than so many cmH2O disagree: chosen here, no source.
const PART: f64 = 0.15;
const LEAST: f64 = 2.0;
/// Fewer inflations than this part of the set rate, too.
const FEWER: f64 = 0.8;

/// In words, where they disagree.
pub(super) fn disagreements(summary: &Summary) -> Vec<String> {
    if late::silence(summary).is_some() {
        return Vec::new();
    }
    let machine = summary.settings.machine();
    let since = summary.steps.all.last().map_or(0.0, |step| step.from_s);
    let rows = || late::rows(summary).filter(move |row| row.onset_s >= since);
    let mut said = Vec::new();
    let mut pressure =
        |name: &str, told: Option<tidevane::quantity::Pressure>, kind: BreathKind| {
            let peaks = || rows().filter(move |row| row.whose == kind).map(|row| row.peak);
            let told = told.map(|p| p.get().to_num::<f64>());
            let seen = quantile(peaks(), 0.5).filter(|_| peaks().count() >= late::FEW / 2);
            if let (Some(told), Some(seen)) = (told, seen)
                && (told - seen).abs() > LEAST.max(PART * told)
            {
                said.push(format!(
                    "{name} told {} cmH2O, measured {}",
                    decimals(told, 1),
                    decimals(seen, 1)
                ));
            }
        };
    pressure("peak", machine.peak, BreathKind::Assured);
    pressure("support", machine.support_peak, BreathKind::Supported);
    let inflations = |row: &Row| row.kind == Kind::Inflation;
    let minutes = (summary.seconds - since).min(LATE) / 60.0;
    let a_minute = rows().filter(inflations).count() as f64 / minutes.max(1.0);
    let told = machine.set_rate.map(|rate| rate.get().to_num::<f64>());
    if let Some(told) = told.filter(|_| minutes >= 1.0) {
        let too_few = a_minute < FEWER * told;
        let none_told = told == 0.0 && machine.support_peak.is_none() && a_minute >= 5.0;
        if too_few || none_told {
            said.push(format!(
                "rate told {}, inflations measured {} a minute",
                decimals(told, 0),
                decimals(a_minute, 0)
            ));
        }
    }
    said
}
