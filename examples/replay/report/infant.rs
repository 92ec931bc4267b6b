//! What the infant does alone.

use super::section;
use crate::figures::{Row, Summary, quantile};
use crate::text::decimals;
use std::io::{self, Write};
use tidevane::breath::Kind;
use tidevane::monitor::Settings;

/// Fewer breaths tell nothing of the rule.
const ENOUGH: usize = 20;

pub(super) fn alarms(out: &mut impl Write, summary: &Summary) -> io::Result<()> {
    section(out, "Which low-volume level would catch the infant's own breaths?")?;
    let volumes = || summary.of_kind(Kind::Own).map(|r| r.expired_ml);
    let (Some(fifth), Some(median)) = (quantile(volumes(), 0.05), quantile(volumes(), 0.5)) else {
        return writeln!(out, "Not known: no trusted own breath was seen.");
    };
    let count = volumes().count();
    if count < ENOUGH {
        return writeln!(
            out,
            "Not known: {count} own breaths are too few to say what 19 of 20 expire; {ENOUGH} are \
             needed."
        );
    }
    let (fifth, median) = (decimals(fifth, 1), decimals(median, 1));
    writeln!(
        out,
        "19 of 20 own breaths expire more than {fifth} mL (median {median} mL). A level below \
         the dead space would hide a breath that ventilates nothing; this version does not yet \
         check that."
    )
}

pub(super) fn wean(out: &mut impl Write, summary: &Summary, settings: &Settings) -> io::Result<()> {
    section(out, "Is the infant carrying the load?")?;
    let rows: Vec<_> = summary.trusted().collect();
    if rows.len() < ENOUGH {
        return writeln!(out, "Not known: fewer than {ENOUGH} trusted breaths.");
    }
    let quarter = rows.len() / 4;
    writeln!(out, "{:<22}{:>16}{:>16}", "", "first quarter", "last quarter")?;
    let (first, last) = (&rows[..quarter], &rows[rows.len() - quarter..]);
    let mut line = |name: &str, value: &dyn Fn(&[&Row]) -> f64| {
        let (first, last) = (decimals(value(first), 0), decimals(value(last), 0));
        writeln!(out, "{name:<22}{first:>16}{last:>16}")
    };
    line("breaths/min", &|r| per_minute(r, |_| 1.0))?;
    line("own breaths/min", &|r| per_minute(r, |r| f64::from(u8::from(r.kind == Kind::Own))))?;
    line("minute volume, mL", &|r| per_minute(r, |r| r.expired_ml))?;
    if let Some(weight) = settings.weight() {
        let kg = f64::from(weight.grams()) / 1_000.0;
        line("  mL/kg", &|r| per_minute(r, |r| r.expired_ml) / kg)?;
    }
    line("own share of it, %", &own_share)?;
    writeln!(
        out,
        "Not known: whether the infant tires; that needs settings, steps and time, which this \
         version does not weigh."
    )
}

fn per_minute(rows: &[&Row], of: impl Fn(&Row) -> f64) -> f64 {
    let total: f64 = rows.iter().map(|row| of(row)).sum();
    let time: f64 = rows.iter().map(|row| row.period_s).sum();
    60.0 * total / time
}

fn own_share(rows: &[&Row]) -> f64 {
    let volume = |row: &&Row| row.expired_ml;
    let own: f64 = rows.iter().filter(|row| row.kind == Kind::Own).map(volume).sum();
    100.0 * own.max(0.0) / rows.iter().map(volume).sum::<f64>()
}

pub(super) fn extubation(out: &mut impl Write) -> io::Result<()> {
    section(out, "Can the tube come out?")?;
    writeln!(
        out,
        "Not known: the published tests need a trial under stated settings, which this recording \
         does not name. A number alone never decides it."
    )
}
