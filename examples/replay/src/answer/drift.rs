//! What moved between the first minutes and the last without a word: pressures, what they bring, and the lung.

use super::late;
use crate::figures::{LATE, Summary};
use crate::row::Row;
use crate::spread::quantile;
use crate::text::{KINDS, decimals, kind_name};
use tidevane::alarm::BreathKind;
use tidevane::breath::Kind;
use tidevane::monitor::MachineSettings;

/// Between the two so much time lies at least, in seconds: chosen here, no source.
const APART: f64 = LATE;
/// A peak that moved by more than this part and by more than so many cmH2O, and a baseline by more than so many, are
/// told: chosen here, no source.
const PART: f64 = 0.15;
const PEAK: f64 = 2.0;
const BASELINE: f64 = 1.0;
/// Compliance, and the volume for each cmH2O, that fell to this part or rose to its inverse, are told; from the first on
/// it is a matter to watch: chosen here, no source.
const LESS: f64 = 0.7;

/// What is compared: the middle of the first minutes, and of the last.
struct Ends {
    first: f64,
    last: f64,
}

impl Ends {
    /// `None` where the recording is too short, or either has too few.
    fn of(summary: &Summary, value: impl Fn(Row) -> Option<f64> + Clone) -> Option<Self> {
        let begin = summary.trusted().next()?.onset_s;
        if summary.seconds - begin < 2.0 * LATE + APART {
            return None;
        }
        let middle = |values: &mut dyn Iterator<Item = f64>| {
            let values: Vec<f64> = values.collect();
            quantile(values.iter().copied(), 0.5).filter(|_| values.len() >= late::FEW)
        };
        let first = summary.trusted_between(begin, begin + LATE).filter_map(value.clone());
        let last = late::rows(summary).filter_map(value);
        Some(Self { first: middle(&mut { first })?, last: middle(&mut { last })? })
    }

    fn told(&self, places: usize) -> String {
        format!("{} at first, {} now", decimals(self.first, places), decimals(self.last, places))
    }

    /// By how much it moved, either way.
    fn moved(&self) -> f64 {
        (self.last - self.first).abs()
    }

    fn part(&self) -> f64 {
        self.last / self.first
    }
}

/// In words, what moved.
pub(super) fn told(summary: &Summary) -> Vec<String> {
    let mut said = Vec::new();
    let baseline = Ends::of(summary, |row| Some(row.baseline));
    if let Some(ends) = baseline.filter(|ends| ends.moved() > BASELINE) {
        said.push(format!("baseline pressure measured {} (cmH2O)", ends.told(1)));
    }
    for kind in KINDS.into_iter().filter(|kind| *kind != BreathKind::Own) {
        let of = move |row: Row| (row.whose == kind).then_some(row.peak);
        let set = |machine: &MachineSettings| match kind {
            BreathKind::Supported => machine.support_peak,
            BreathKind::Own | BreathKind::Assured => machine.peak,
        };
        let was_set =
            summary.steps.all.windows(2).any(|pair| set(&pair[0].machine) != set(&pair[1].machine));
        let ends = Ends::of(summary, of).filter(|_| !was_set);
        if let Some(ends) = ends.filter(|ends| ends.moved() > PEAK.max(PART * ends.first)) {
            said.push(format!(
                "peak of {} inflations measured {} (cmH2O)",
                kind_name(kind),
                ends.told(1)
            ));
        }
    }
    let compliance = Ends::of(summary, |row| Some(row.mechanics?[0]));
    let apart = |ends: &Ends| ends.part() <= LESS || ends.part() >= 1.0 / LESS;
    if let Some(ends) = compliance.filter(apart) {
        said.push(format!("compliance measured {} (mL/cmH2O)", ends.told(2)));
    }
    said.extend(takes_more(summary));
    said
}

/// Inflations that bring less for each cmH2O than at first: a stiffer lung, a narrower tube, or less effort of the infant.
pub(super) fn takes_more(summary: &Summary) -> Option<String> {
    let ends = Ends::of(summary, |row| {
        let rise = row.peak - row.baseline;
        (row.kind == Kind::Inflation && rise > 0.0).then_some(row.lung_ml? / rise)
    });
    let ends = ends.filter(|ends| ends.first > 0.0 && ends.part() <= LESS)?;
    Some(format!("an inflation brings {} mL for each cmH2O above the baseline", ends.told(2)))
}

/// Whether enough breaths told compliance for a jump to be seen.
pub(super) fn is_lung_seen(summary: &Summary) -> bool {
    summary.trusted().filter(|row| row.mechanics.is_some()).nth(late::FEW).is_some()
}
