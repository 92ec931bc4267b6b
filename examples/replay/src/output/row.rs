//! One breath as a row of a table.

use crate::text::decimals;
use tidevane::breath::Kind;
use tidevane::leak::LungVolume;
use tidevane::mechanics::FitOutcome;
use tidevane::monitor::BreathReport;
use tidevane::quantity::{Pressure, Volume};

/// The columns; an empty cell is not known.
pub(crate) const COLUMNS: [&str; 17] = [
    "onset_us",
    "end_insp_us",
    "end_us",
    "kind",
    "initiation",
    "insp_ml",
    "exp_ml",
    "leak_share",
    "corrected_ml",
    "corrected_sd_ml",
    "peak_cmH2O",
    "baseline_cmH2O",
    "mean_cmH2O",
    "compliance_ml_per_cmH2O",
    "resistance_cmH2O_s_per_l",
    "fit_r2",
    "flags",
];

/// A cell, with as many decimals as it is printed with.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Cell {
    Time(u64),
    Text(String),
    Number(Option<f64>, usize),
}

impl Cell {
    pub(crate) fn text(&self) -> String {
        match self {
            Self::Time(us) => us.to_string(),
            Self::Text(text) => text.clone(),
            Self::Number(value, places) => {
                value.map_or_else(String::new, |value| decimals(value, *places))
            }
        }
    }
}

/// The cells of a breath.
pub(crate) fn of(report: &BreathReport) -> [Cell; COLUMNS.len()] {
    let breath = &report.breath;
    let ml = |v: Option<Volume>| Cell::Number(v.map(|v| v.get().to_num()), 3);
    let cmh2o = |p: Option<Pressure>| Cell::Number(p.map(|p| p.get().to_num()), 2);
    let (compliance, resistance, goodness) = match report.mechanics {
        FitOutcome::Known { compliance, resistance, goodness, .. } => (
            Some(compliance.get().to_num()),
            Some(resistance.get().to_num()),
            Some(goodness.get().to_num()),
        ),
        FitOutcome::Unknown(_) => (None, None, None),
    };
    let (lung, sd) = match report.lung {
        LungVolume::Known { volume, sd } => (Some(volume), Some(sd)),
        LungVolume::Unknown(_) => (None, None),
    };
    let kind = match breath.kind {
        Kind::Inflation => "inflation",
        Kind::Own => "own",
    };
    let cause = report.initiation.map_or("", |i| i.cause.name());
    [
        Cell::Time(breath.onset.to_us()),
        Cell::Time(breath.end_insp.to_us()),
        Cell::Time(breath.end.to_us()),
        Cell::Text(kind.into()),
        Cell::Text(cause.into()),
        ml(breath.inspired.within()),
        ml(breath.expired.within()),
        Cell::Number(report.leak.share().map(|s| s.get().to_num()), 4),
        ml(lung),
        ml(sd),
        cmh2o(Some(breath.peak)),
        cmh2o(Some(breath.baseline)),
        cmh2o(breath.mean_pressure()),
        Cell::Number(compliance, 3),
        Cell::Number(resistance, 1),
        Cell::Number(goodness, 4),
        Cell::Text(breath.flags.to_string()),
    ]
}
