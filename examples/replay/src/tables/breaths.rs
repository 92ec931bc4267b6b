//! One breath as a row of a table.

use super::column::{Cell, Column};
use tidevane::alarm::BreathKind;
use tidevane::breath::Kind;
use tidevane::monitor::BreathReport;
use tidevane::quantity::{Limited, Volume, number_at};

/// Where a column gets its cells from: paths into the report, or what is worked out of it.
enum From {
    /// A time, in µs.
    Time(&'static str),
    /// A number: at the first of these paths at which one stands.
    Number(&'static [&'static str]),
    /// Worked out.
    Worked(fn(&BreathReport) -> Option<f64>),
    /// A word.
    Word(fn(&BreathReport) -> String),
}

const fn time(name: &'static str, path: &'static str) -> (Column, From) {
    (Column::time(name), From::Time(path))
}

const fn word(name: &'static str, of: fn(&BreathReport) -> String) -> (Column, From) {
    (Column::text(name), From::Word(of))
}

const fn number(
    name: &'static str,
    unit: &'static str,
    places: usize,
    from: From,
) -> (Column, From) {
    (Column::number(name, unit, places), from)
}

/// The columns; an empty cell is not known.
const TABLE: [(Column, From); 20] = [
    time("onset_us", "breath.onset"),
    time("end_insp_us", "breath.end_insp"),
    time("end_us", "breath.end"),
    word("kind", |r| kind(r.breath.kind).into()),
    word("initiation", |r| r.initiation.map_or("", |i| i.cause.name()).into()),
    number("insp_ml", "mL", 3, From::Worked(|r| exact(r.breath.inspired))),
    number("exp_ml", "mL", 3, From::Worked(|r| exact(r.breath.expired))),
    number("leak_share", "1", 4, From::Number(&["leak.Share", "leak.Negative"])),
    number("corrected_ml", "mL", 3, From::Number(&["lung.Known.volume"])),
    number("corrected_sd_ml", "mL", 3, From::Number(&["lung.Known.sd"])),
    number("peak_cmH2O", "cmH2O", 2, From::Number(&["breath.peak"])),
    number("baseline_cmH2O", "cmH2O", 2, From::Number(&["breath.baseline"])),
    number("mean_cmH2O", "cmH2O", 2, From::Worked(mean)),
    number("compliance_ml_per_cmH2O", "mL/cmH2O", 3, From::Number(&["mechanics.Known.compliance"])),
    number(
        "resistance_cmH2O_s_per_l",
        "cmH2O/(L/s)",
        1,
        From::Number(&["mechanics.Known.resistance"]),
    ),
    number("fit_r2", "1", 4, From::Number(&["mechanics.Known.goodness"])),
    word("flags", |r| r.breath.flags.to_string()),
    time("time_us", "time"),
    word("support", |r| support(r.kind).into()),
    number("lag_ms", "ms", 0, From::Worked(|r| Some(r.lag?.to_us() as f64 / 1e3))),
];

const fn kind(kind: Kind) -> &'static str {
    match kind {
        Kind::Inflation => "inflation",
        Kind::Own => "own",
    }
}

/// What the machine did for it.
const fn support(kind: BreathKind) -> &'static str {
    match kind {
        BreathKind::Own => "none",
        BreathKind::Supported => "supported",
        BreathKind::Assured => "assured",
    }
}

fn mean(report: &BreathReport) -> Option<f64> {
    report.breath.mean_pressure().map(|pressure| pressure.get().to_num())
}

/// A volume that was not clamped.
fn exact(volume: Limited<Volume>) -> Option<f64> {
    volume.within().map(|volume| volume.get().to_num())
}

/// The columns alone.
pub(crate) const COLUMNS: [Column; TABLE.len()] = {
    let mut columns = [Column::time(""); TABLE.len()];
    let mut i = 0;
    while i < columns.len() {
        columns[i] = TABLE[i].0;
        i += 1;
    }
    columns
};

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
        From::Number(paths) => Cell::Number(paths.iter().find_map(|path| number(path))),
        From::Worked(work) => Cell::Number(work(report)),
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
                for ((filled, cell), column) in filled.iter_mut().zip(of(&closed)).zip(&COLUMNS) {
                    *filled |= !cell.text(column).is_empty();
                }
            }
        }
        let empty: Vec<_> = COLUMNS.iter().zip(filled).filter(|(_, filled)| !filled).collect();
        // Kinds of inflation are told, flags and causes of a few.
        assert!(empty.is_empty(), "{empty:?}");
    }
}
