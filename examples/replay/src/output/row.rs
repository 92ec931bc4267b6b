//! One breath as a row of a table.

use crate::text::decimals;
use tidevane::breath::Kind;
use tidevane::monitor::BreathReport;
use tidevane::quantity::{Limited, Volume, number_at};

/// Where a column gets its cells from: paths into the report, or what is worked out of it.
enum From {
    /// A time, in µs.
    Time(&'static str),
    /// A number with so many decimals: at the first of these paths at which one stands.
    Number(&'static [&'static str], usize),
    /// Worked out, with so many decimals.
    Worked(fn(&BreathReport) -> Option<f64>, usize),
    /// A word.
    Word(fn(&BreathReport) -> String),
}

/// The columns; an empty cell is not known.
const TABLE: [(&str, From); 18] = [
    ("onset_us", From::Time("breath.onset")),
    ("end_insp_us", From::Time("breath.end_insp")),
    ("end_us", From::Time("breath.end")),
    ("kind", From::Word(|r| kind(r.breath.kind).into())),
    ("initiation", From::Word(|r| r.initiation.map_or("", |i| i.cause.name()).into())),
    ("insp_ml", From::Worked(|r| exact(r.breath.inspired), 3)),
    ("exp_ml", From::Worked(|r| exact(r.breath.expired), 3)),
    ("leak_share", From::Number(&["leak.Share", "leak.Negative"], 4)),
    ("corrected_ml", From::Number(&["lung.Known.volume"], 3)),
    ("corrected_sd_ml", From::Number(&["lung.Known.sd"], 3)),
    ("peak_cmH2O", From::Number(&["breath.peak"], 2)),
    ("baseline_cmH2O", From::Number(&["breath.baseline"], 2)),
    ("mean_cmH2O", From::Worked(|r| r.breath.mean_pressure().map(|p| p.get().to_num()), 2)),
    ("compliance_ml_per_cmH2O", From::Number(&["mechanics.Known.compliance"], 3)),
    ("resistance_cmH2O_s_per_l", From::Number(&["mechanics.Known.resistance"], 1)),
    ("fit_r2", From::Number(&["mechanics.Known.goodness"], 4)),
    ("flags", From::Word(|r| r.breath.flags.to_string())),
    ("time_us", From::Time("time")),
];

const fn kind(kind: Kind) -> &'static str {
    match kind {
        Kind::Inflation => "inflation",
        Kind::Own => "own",
    }
}

/// A volume that was not clamped.
fn exact(volume: Limited<Volume>) -> Option<f64> {
    volume.within().map(|volume| volume.get().to_num())
}

/// Their names.
pub(crate) const COLUMNS: [&str; TABLE.len()] = {
    let mut names = [""; TABLE.len()];
    let mut i = 0;
    while i < names.len() {
        names[i] = TABLE[i].0;
        i += 1;
    }
    names
};

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
    let number = |path: &str| {
        let number = number_at(report, path)?;
        Some(number.bits as f64 / 2_f64.powi(number.fraction.into()))
    };
    TABLE.map(|(_, from)| match from {
        From::Time(path) => {
            Cell::Time(number_at(report, path).map_or(0, |number| number.bits.cast_unsigned()))
        }
        From::Number(paths, places) => {
            Cell::Number(paths.iter().find_map(|path| number(path)), places)
        }
        From::Worked(work, places) => Cell::Number(work(report), places),
        From::Word(word) => Cell::Text(word(report)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use tidevane::monitor::{Monitor, Settings};
    use tidevane::quantity::{Flow, Moment, Pressure};
    use tidevane::signal::Reading;

    /// A column whose path leads nowhere would stay empty without a word: a passive breath and one
    /// with more out than in fill all of them.
    #[test]
    fn every_path_leads_to_a_number() {
        let mut filled = [false; COLUMNS.len()];
        for out in [0.9, 1.1] {
            let mut monitor = Monitor::new(Settings::default());
            for n in 0..6_000_u64 {
                let t = (n % 200) as f64 * 0.005;
                // A lung of 50 ms under 10 cmH2O: 1 mL/cmH2O, 50 cmH2O*s/L; noise so that it lives.
                let (way, t, pressure) = if t < 0.4 { (1.0, t, 15) } else { (-out, t - 0.4, 5) };
                let flow = way * 200.0 * (-t / 0.05).exp() + (n % 3) as f64 * 0.05;
                let reading = Reading {
                    flow: Flow::from_bits((flow * 65_536.0) as i32),
                    pressure: Pressure::from_int(pressure),
                };
                let report = monitor.push_at(Moment::from_us(n * 5_000), reading);
                let Some(closed) = report.breath else { continue };
                for (filled, cell) in filled.iter_mut().zip(of(&closed)) {
                    *filled |= !cell.text().is_empty();
                }
            }
        }
        let empty: Vec<_> = COLUMNS.iter().zip(filled).filter(|(_, filled)| !filled).collect();
        // Kinds of inflation are told, flags and causes of a few.
        assert!(empty.is_empty(), "{empty:?}");
    }
}
