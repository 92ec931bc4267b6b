//! Does the lung get more than it should: volumes above 6 and 8 mL/kg, by kind and step.

use crate::doc::Doc;
use crate::figures::Summary;
use crate::text::{KINDS, decimals, kind_name};
use tidevane::alarm::BreathKind;
use tidevane::quantity::Mass;

/// The upper end of usual settings (4 to 6 mL/kg; J Perinatol, doi 10.1038/s41372-018-0228-2), and of
/// full support by volume (5 to 8 mL/kg; Gupta 2009).
pub(crate) const LIMITS: [f64; 2] = [6.0, 8.0];
/// Fewer breaths are not told.
const FEW: usize = 10;
/// A smaller share above is not told.
const LEAST: f64 = 0.05;

pub(super) fn write(doc: &mut Doc, summary: &Summary) {
    if summary.settings.weight().is_none() {
        return doc
            .say("Whether the lung gets more than 6 or 8 mL/kg is not known without a weight.");
    }
    let rows: Vec<_> = summary
        .steps
        .all
        .iter()
        .enumerate()
        .filter_map(|(i, step)| {
            let of = |kind| above(summary, kind, step.from_s, step.to_s);
            let kinds = KINDS.map(of);
            let is_told = kinds.iter().flatten().any(|[six, _]| *six > LEAST);
            let mut row = vec![(i + 1).to_string(), summary.clock(step.from_s)];
            row.extend(kinds.iter().flat_map(|shares| match shares {
                Some(shares) => shares.map(|share| decimals(100.0 * share, 0)),
                None => ["-".into(), "-".into()],
            }));
            is_told.then_some(row)
        })
        .collect();
    if summary.trusted().all(|row| row.lung_ml.is_none()) {
        return doc
            .say("Whether the lung gets more than 6 or 8 mL/kg is not known: no volume in it is.");
    }
    let limits = "6 and 8 mL/kg in the lung (the upper ends of usual settings, J Perinatol, doi \
                  10.1038/s41372-018-0228-2, and of full support, Gupta 2009, Arch Dis Child Fetal \
                  Neonatal Ed)";
    if rows.is_empty() {
        return doc.say(format!("No step had more than 5 % of a kind of breath above {limits}."));
    }
    doc.say(format!(
        "Breaths above {limits}, by step; a dash: fewer than ten with a known volume."
    ));
    let [set, supported, own] = KINDS.map(kind_name);
    let header = [
        "step".to_owned(),
        "from".into(),
        format!("{set} > 6"),
        format!("{set} > 8"),
        format!("{supported} > 6"),
        format!("{supported} > 8"),
        format!("{own} > 6"),
        format!("{own} > 8"),
    ];
    doc.table(
        "Breaths above 6 and 8 mL/kg in the lung, % of their kind",
        &header.each_ref().map(String::as_str),
        rows,
    );
}

/// The shares of the breaths of a kind within a time that were above each limit; `None` without a weight
/// or for too few.
fn above(summary: &Summary, kind: BreathKind, from_s: f64, to_s: f64) -> Option<[f64; 2]> {
    let kg = f64::from(summary.settings.weight().map(Mass::grams)?) / 1_000.0;
    let meant = summary.trusted_between(from_s, to_s).filter(|row| row.whose == kind);
    let volumes = meant.filter_map(|row| Some(row.lung_ml? / kg));
    let all = volumes.clone().count();
    let share =
        |limit: f64| volumes.clone().filter(|volume| *volume > limit).count() as f64 / all as f64;
    (all >= FEW).then(|| LIMITS.map(share))
}
