//! How long the infant began no breath of its own, and whether it breathes periodically.

use super::limits;
use crate::doc::Doc;
use crate::figures::{Summary, is_begun_by_infant};
use crate::row::Row;
use crate::text::decimals;
use tidevane::signal::Flags;
use tidevane::trigger::Cause;

/// Pauses that are counted, in seconds: 20 s are an apnoea (AAP clinical report 2016, Pediatrics 137:e20153757), the
/// shorter ones are common practice, no source.
pub(crate) const PAUSES: [f64; 3] = [5.0, 10.0, 20.0];
/// Periodic breathing: three pauses and more of so many seconds, with no more than so many of breathing between them
/// (the usual definition; from memory, no source checked).
const PERIODIC: (usize, f64, f64) = (3, 3.0, 20.0);
/// After such a flag it is not known how long a pause was.
const UNHEARD: [Flags; 2] = [Flags::GAP, Flags::CUT];

/// From the beginning of one breath to that of the next.
pub(crate) struct Pause {
    pub(crate) from_s: f64,
    pub(crate) long_s: f64,
}

/// The intervals between the breaths that count, where nothing was missed between them.
pub(crate) fn intervals(
    rows: impl Iterator<Item = Row>,
    counts: impl Fn(&Row) -> bool,
) -> impl Iterator<Item = Pause> {
    let mut last = None;
    rows.filter_map(move |row| {
        if UNHEARD.iter().any(|flag| row.flags.has(*flag)) {
            last = None;
            return None;
        }
        let from_s = counts(&row).then(|| last.replace(row.onset_s))??;
        Some(Pause { from_s, long_s: row.onset_s - from_s })
    })
}

/// How many seconds of periodic breathing these intervals hold.
pub(crate) fn periodic_s(intervals: &[Pause]) -> f64 {
    let (least, long, between) = PERIODIC;
    let mut run: Vec<&Pause> = Vec::new();
    let mut total = 0.0;
    let end = |pause: &Pause| pause.from_s + pause.long_s;
    let length = |run: &[&Pause]| match (run.first(), run.last()) {
        (Some(first), Some(last)) if run.len() >= least => end(last) - first.from_s,
        _ => 0.0,
    };
    for pause in intervals.iter().filter(|pause| pause.long_s >= long) {
        if run.last().is_some_and(|last| pause.from_s - end(last) > between) {
            total += length(&run);
            run.clear();
        }
        run.push(pause);
    }
    total + length(&run)
}

pub(super) fn write(doc: &mut Doc, summary: &Summary) {
    doc.section("pauses", "How long were the infant's pauses?");
    let rows: Vec<_> = summary
        .steps
        .all
        .iter()
        .enumerate()
        .filter_map(|(i, step)| {
            let is_one = |row: &Row| !summary.is_hardly_one(row);
            let all = || summary.rows.between(step.from_s, step.to_s).filter(is_one);
            let own = || intervals(all(), is_begun_by_infant);
            let is_seen = all().any(|row| is_begun_by_infant(&row));
            let longest = own().map(|p| p.long_s).fold(0.0, f64::max);
            let own: Vec<_> = own().filter(|p| p.long_s >= PERIODIC.1).collect();
            let silent = intervals(all(), |_| true).filter(|p| p.long_s >= PAUSES[1]).count();
            let timed = all().filter(|row| row.cause == Some(Cause::Timed)).count();
            let share = 100.0 * timed as f64 / all().count() as f64;
            let count = |long| own.iter().filter(|p| p.long_s >= long).count();
            let longest = if is_seen { decimals(longest, 1) } else { "-".into() };
            let hidden = if limits::is_self_cycled(summary, step) { " *" } else { "" };
            let mut row = vec![format!("{}{hidden}", i + 1), summary.clock(step.from_s), longest];
            row.extend(PAUSES.map(|long| count(long).to_string()));
            row.push(silent.to_string());
            row.push(decimals(100.0 * periodic_s(&own) / (step.to_s - step.from_s).max(1.0), 0));
            row.push(decimals(share, 0));
            (all().count() > 0).then_some(row)
        })
        .collect();
    if rows.is_empty() {
        return doc.say("Not known: no breath was seen.");
    }
    let is_hidden = rows.iter().any(|row: &Vec<String>| row[0].ends_with('*'));
    doc.table(
        "Time from one breath that the infant began to the next",
        &[
            "step",
            "from",
            "longest, s",
            "5 s and more",
            "10 s and more",
            "20 s and more",
            "no breath at all for 10 s",
            "periodic, % of time",
            "begun by the timer, %",
        ],
        rows,
    );
    if is_hidden {
        doc.say(
            "* The machine set more than a tenth of these inflations off by itself: efforts are hidden, and pauses look \
             longer than they are.",
        );
    }
    doc.method(
        "A breath that the infant began is its own or an inflation set off by its effort; the time runs from \
         onset to onset, and stops being known at a gap of the recording. 20 s are an apnoea (AAP clinical \
         report 2016, Pediatrics 137:e20153757); 5 and 10 s are common practice, no source. Periodic: three \
         pauses of 3 s and more with at most 20 s of breathing between them (the usual definition, from \
         memory). An own breath under a quarter of the dead space ends none: a heart moves as \
         much. Inflations by the timer hide a pause from the eye: here they do not end it.",
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pause(from_s: f64, long_s: f64) -> Pause {
        Pause { from_s, long_s }
    }

    #[test]
    fn three_pauses_near_each_other_are_periodic() {
        // Pauses of 4 s at 10, 24 and 40: between them 10 and 12 s of breathing. From 10 to 44: 34 s.
        let near = [pause(10.0, 4.0), pause(14.0, 1.0), pause(24.0, 4.0), pause(40.0, 4.0)];
        assert_eq!(periodic_s(&near), 34.0);
        // Two are none; nor three of which one stands 21 s after the one before.
        assert_eq!(periodic_s(&near[..3]), 0.0);
        assert_eq!(periodic_s(&[pause(10.0, 4.0), pause(24.0, 4.0), pause(49.0, 4.0)]), 0.0);
    }
}
