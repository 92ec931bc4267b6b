//! What stands for now: the last minutes of a recording.

use crate::figures::{LATE, Summary};
use crate::report::belief;
use crate::row::Row;
use crate::spread::quantile;
use crate::text::{decimals, length};
use tidevane::alarm::BreathKind;
use tidevane::leak::VolumeCredibility;
use tidevane::signal::Flags;

/// Fewer breaths to be trusted say nothing of now.
pub(super) const FEW: usize = 20;
/// So many seconds without a breath are an apnoea.
const APNOEA: f64 = 20.0;
/// After so many seconds without input nothing is said of now.
pub(super) const BLIND: f64 = 10.0;

/// The trusted breaths of now.
pub(super) fn rows(summary: &Summary) -> impl Iterator<Item = Row> + Clone {
    let from = summary.seconds - LATE;
    summary.trusted_since(from).rev()
}

/// For how long no breath had ended and none was under way at the end, where that is long: an apnoea (AAP clinical
/// report 2016, Pediatrics 137:e20153757), though the sensor was heard.
pub(super) fn no_breath(summary: &Summary) -> Option<f64> {
    let last = summary.rows.iter().rev().find(|row| !summary.is_hardly_one(row));
    let since = last.map_or(0.0, |row| row.onset_s + row.insp_s);
    let quiet = summary.seconds - since;
    (quiet >= APNOEA && summary.blind_s < BLIND).then_some(quiet)
}

/// Why now is not known.
pub(super) fn silence(summary: &Summary) -> Option<String> {
    if summary.blind_s >= BLIND {
        return Some(format!("nothing usable came for the last {}", length(summary.blind_s)));
    }
    if let Some(quiet) = no_breath(summary) {
        return Some(format!("no breath for the last {}", length(quiet)));
    }
    let from = summary.seconds - LATE;
    let all = summary.rows.since(from).count();
    let trusted = rows(summary).count();
    (trusted < FEW || 2 * trusted < all)
        .then(|| format!("{trusted} of the last {all} breaths can be trusted"))
}

/// How many breaths there were of late, and those left out, where these are most and something else than numbers that
/// cannot be.
pub(super) fn left_out(summary: &Summary) -> Option<(usize, Vec<Row>)> {
    let all = || summary.rows.since(summary.seconds - LATE);
    let flagged: Vec<_> = all().filter(|row| !row.trusted).collect();
    let cannot_be = flagged.iter().filter(|row| row.flags.has(Flags::IMPLAUSIBLE)).count();
    let is_most = all().count() >= FEW && 2 * flagged.len() > all().count();
    (is_most && 2 * cannot_be < flagged.len()).then(|| (all().count(), flagged))
}

/// What share of the gas leaks, and what that leaves of a displayed volume.
pub(super) fn leak(summary: &Summary) -> Option<(Middle, VolumeCredibility)> {
    let leak = Middle::of(rows(summary).filter_map(|row| row.leak_window))?;
    Some((leak, belief(leak.median)))
}

/// In how many of the passive breaths of now expiration was too short to empty the lung, of how many: where that is more
/// than half (chosen here, no source).
pub(super) fn short(summary: &Summary) -> Option<(usize, usize)> {
    // Of others the time constant is that of an earlier breath, and the infant may breathe out itself.
    let told = || rows(summary).filter(|row| row.mechanics.is_some()).filter_map(|row| row.short);
    let (short, known) = (told().filter(|short| *short).count(), told().count());
    (known >= FEW / 2 && 2 * short > known).then_some((short, known))
}

/// Median and middle half of something of the breaths of now.
#[derive(Clone, Copy)]
pub(super) struct Middle {
    pub(super) low: f64,
    pub(super) median: f64,
    pub(super) high: f64,
    pub(super) count: usize,
}

impl Middle {
    pub(super) fn of(values: impl Iterator<Item = f64> + Clone) -> Option<Self> {
        Some(Self {
            low: quantile(values.clone(), 0.25)?,
            median: quantile(values.clone(), 0.5)?,
            high: quantile(values.clone(), 0.75)?,
            count: values.count(),
        })
    }

    /// Of shares: as `14 % (12 to 15)`.
    pub(super) fn percent(&self) -> String {
        self.told("%", 0.01, 0)
    }

    /// As `5.1 mL/kg (4.8 to 5.4)`, in multiples of a unit.
    pub(super) fn told(&self, unit: &str, each: f64, places: usize) -> String {
        let [low, median, high] =
            [self.low, self.median, self.high].map(|v| decimals(v / each, places));
        if low == high {
            format!("{median} {unit}")
        } else {
            format!("{median} {unit} ({low} to {high})")
        }
    }
}

/// What the lung got, by kind of breath: set-rate inflations before supported ones before own breaths.
pub(super) fn lung(summary: &Summary, kind: BreathKind) -> Option<Middle> {
    Middle::of(rows(summary).filter(move |row| row.whose == kind).filter_map(|row| row.lung_ml))
}
