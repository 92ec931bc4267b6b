//! What the infant does alone.

use super::section;
use crate::figures::{Row, Summary};
use crate::text::decimals;
use std::io::{self, Write};
use tidevane::alarm::{BreathKind, Level, LevelAdvice, NoLevel, anatomical_dead_space};
use tidevane::breath::Kind;
use tidevane::monitor::Settings;
use tidevane::quantity::Span;

/// Fewer breaths tell nothing of the rule.
const ENOUGH: usize = 20;

pub(super) fn alarms(
    out: &mut impl Write,
    summary: &Summary,
    settings: &Settings,
) -> io::Result<()> {
    section(out, "Which low-volume level would catch the infant's own breaths?")?;
    level(out, summary, settings)?;
    if summary.alarms.is_empty() {
        return writeln!(out, "No alarm of those set would have rung.");
    }
    let rung: Vec<_> = summary.alarms.iter().map(|(name, n)| format!("{name} {n} times")).collect();
    writeln!(out, "Of the alarms set these would have rung: {}.", rung.join(", "))
}

/// The level for own breaths, never under the dead space.
fn level(out: &mut impl Write, summary: &Summary, settings: &Settings) -> io::Result<()> {
    let Some(weight) = settings.weight() else {
        return writeln!(
            out,
            "Not known: without a weight (--weight-g) the dead space is not known, below which a \
             level would hide a breath that ventilates nothing."
        );
    };
    let floor = anatomical_dead_space(weight, Span::ZERO);
    let space = decimals(floor.get().to_num(), 1);
    match LevelAdvice::new(floor, 95).map(|a| a.advise(&summary.volumes, BreathKind::Own)) {
        Ok(Level::Set { level, captures }) => writeln!(
            out,
            "A level of {level:.1} is reached by {} % of own breaths and stays above the \
             anatomical dead space of {space} mL (Numa and Newth 1996, J Appl Physiol).",
            decimals(captures.get().to_num::<f64>() * 100.0, 0)
        ),
        Ok(Level::None(NoLevel::UnderDeadSpace { would_be })) => writeln!(
            out,
            "None to recommend: 95 % of own breaths reach only {would_be:.1}, under the anatomical \
             dead space of {space} mL (Numa and Newth 1996, J Appl Physiol). Such breaths may \
             ventilate nothing; an alarm must not be silenced for them."
        ),
        Ok(Level::None(_)) => writeln!(out, "Not known: fewer than thirty own breaths were seen."),
        Err(error) => writeln!(out, "Not known: {error}."),
    }
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
