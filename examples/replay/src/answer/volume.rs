//! What reaches the lung, and is a target reached inside the pressure limits?

use super::late::{self, kind_name};
use super::{Answer, Question, Standing};
use crate::figures::Summary;
use crate::text::{clock, percent};
use tidevane::alarm::BreathKind;
use tidevane::volume::Bound;

const QUESTION: Question = Question::Volume;
/// The upper ends of usual settings and of full support (J Perinatol, doi 10.1038/s41372-018-0228-2;
/// Gupta 2009, Arch Dis Child Fetal Neonatal Ed), in mL/kg.
const USUAL: f64 = 6.0;
const FULL: f64 = 8.0;

pub(super) fn answer(summary: &Summary) -> Answer {
    let kinds = [BreathKind::Assured, BreathKind::Supported, BreathKind::Own];
    let Some((kind, got)) =
        kinds.into_iter().find_map(|kind| Some((kind, late::lung(summary, kind)?)))
    else {
        return Answer::unknown(QUESTION, "no volume in the lung is known of the last 3 min");
    };
    let name = kind_name(kind);
    let Some(kg) = summary.kg() else {
        let number = got.told("mL", 1.0, 1);
        let why = format!("no weight was given: {name} breaths moved {number}");
        return Answer::unknown(QUESTION, why);
    };
    let space = summary.dead_space_ml();
    let above = late::rows(summary)
        .filter(|row| row.whose == kind && row.lung_ml.is_some_and(|ml| ml > FULL * kg))
        .count();
    let (mut standing, mut word) = match got.median / kg {
        _ if space.is_some_and(|space| got.median < space) => {
            (Standing::Look, "below the dead space")
        }
        per_kg if per_kg > FULL => (Standing::Look, "above 8 mL/kg"),
        per_kg if per_kg > USUAL => (Standing::Watch, "above 6 mL/kg"),
        _ => (Standing::NoSign, "within usual settings"),
    };
    let mut why = format!(
        "{} {name} breaths of the last 3 min, leak taken off; {} above 8 mL/kg",
        got.count,
        percent(above as f64 / got.count as f64)
    );
    if let Some((held, n, since)) = summary.target.now() {
        why += &format!("; target held {held} since {}, {n} in a row", clock(since));
        if summary.target.binds() == Some(Bound::Ceiling) {
            (standing, word) = (Standing::Look, "target not reached");
        }
    }
    Answer::new(QUESTION, standing, word, got.told("mL/kg", kg, 1), why)
}
