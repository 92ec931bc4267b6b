//! What reaches the lung, and is a target reached inside the pressure limits?

use super::late::{self, Middle};
use super::{Answer, Question, Standing, drift};
use crate::config::Bedside;
use crate::figures::{LATE, Summary};
use crate::report::{LIMITS, MINUTE, NEEDED};
use crate::row::{Row, stretches};
use crate::text::{KINDS, decimals, kind_name, percent};
use tidevane::alarm::BreathKind;
use tidevane::leak::VolumeCredibility;
use tidevane::volume::Bound;

const QUESTION: Question = Question::Volume;
/// The lower end of usual settings (J Perinatol, doi 10.1038/s41372-018-0228-2), in mL/kg.
const LOW: f64 = 4.0;
/// Their upper end, and that of full support.
const USUAL: f64 = LIMITS[0];
const FULL: f64 = LIMITS[1];
/// A bound that held so many inflations in a row is no passing one: chosen here, no source.
const HELD: usize = 60;
/// A minute volume under this is little (Vento 2004, J Matern Fetal Neonatal Med), in mL/kg.
const LITTLE: f64 = 125.0;
/// In a word, breaths of now above the upper end of full support.
const LARGE: &str = "above 8 mL/kg";
/// Fewer breaths of a kind do not speak for it.
const FEW: usize = 10;

pub(super) fn answer(summary: &Summary, bedside: &Bedside) -> Answer {
    let needed = bedside.needed.unwrap_or(NEEDED).get().to_num::<f64>();
    let seen: Vec<_> = KINDS
        .into_iter()
        .filter_map(|kind| Some((kind, late::lung(summary, kind)?)))
        .filter(|(_, got)| got.count >= FEW)
        .collect();
    let Some((kind, got)) = seen.first().copied() else {
        return Answer::unknown(QUESTION, "no volume in the lung is known of the last 3 min");
    };
    let Some(kg) = summary.kg() else {
        let (name, number) = (kind_name(kind), got.told("mL", 1.0, 1));
        return Answer::unknown(
            QUESTION,
            format!("no weight was given: {name} breaths moved {number}"),
        );
    };
    // The kind that asks most for a look.
    let space = summary.dead_space_ml().unwrap_or_default();
    let judged = seen.into_iter().map(|(kind, got)| (judge(&got, kg, space), kind, got));
    let most = judged.min_by_key(|((standing, _), ..)| *standing);
    let ((mut standing, mut word), kind, got) = most.unwrap_or((judge(&got, kg, space), kind, got));
    let above = late::rows(summary)
        .filter(|row| row.whose == kind && row.lung_ml.is_some_and(|ml| ml > FULL * kg))
        .count();
    let mut why = format!(
        "{} {} breaths of the last 3 min, leak taken off; {} above 8 mL/kg",
        got.count,
        kind_name(kind),
        percent(above as f64 / got.count as f64)
    );
    match late::leak(summary) {
        Some((leak, VolumeCredibility::TargetingHopeless)) => {
            let leak = percent(leak.median);
            let why = format!("{leak} leaks: a volume would rest on a model of the leak alone");
            return Answer::unknown(QUESTION, why);
        }
        Some((leak, VolumeCredibility::Unreliable)) if standing == Standing::NoSign => {
            (standing, word) = (Standing::Watch, "by a model of the leak alone");
            why += &format!("; {} leaks", percent(leak.median));
        }
        _ => {}
    }
    let minutes: Vec<f64> =
        late::rows(summary).filter_map(|row| Some(row.lung_ml? * row.rate? / kg)).collect();
    if minutes.len() >= late::FEW {
        let minute = minutes.iter().sum::<f64>() / minutes.len() as f64;
        why += &format!(
            "; {} mL/kg a minute ({})",
            decimals(minute, 0),
            match bedside.needed {
                Some(_) => format!("{} to plan by", decimals(needed, 0)),
                None => format!("while weaning {} to {}", decimals(needed, 0), decimals(MINUTE, 0)),
            }
        );
        if minute < LITTLE && standing != Standing::Look {
            (standing, word) = (Standing::Look, "little minute volume");
        } else if minute < needed && standing == Standing::NoSign {
            (standing, word) = (Standing::Watch, "less a minute than needed");
        } else if minute > MINUTE.max(needed) && standing == Standing::NoSign {
            (standing, word) = (Standing::Watch, "more a minute than usual");
        }
    }
    if let Some((short, known)) = late::short(summary) {
        why += &format!(
            "; expiration lasted less than three time constants in {short} of {known} passive breaths"
        );
        if standing != Standing::Look {
            (standing, word) = (Standing::Look, "expiration too short to empty the lung");
        }
    }
    if word != LARGE
        && let Some(past) = past(summary, kg)
    {
        why += &format!("; {past}");
        if standing == Standing::NoSign {
            (standing, word) = (Standing::Watch, "usual now; earlier above 8 mL/kg");
        }
    }
    if let Some(more) = drift::takes_more(summary) {
        why += &format!("; {more}: a stiffer lung, a narrower tube, or less effort");
        if standing == Standing::NoSign {
            (standing, word) = (Standing::Watch, "takes more pressure than at first");
        }
    }
    if let Some((held, n, since)) = summary.target.now() {
        why += &format!("; target held {held} since {}, {n} in a row", summary.clock(since));
        let binds = summary.target.binds();
        if binds == Some(Bound::Ceiling) || (n >= HELD && binds != Some(Bound::None)) {
            (standing, word) = (Standing::Look, "target not reached");
        }
    }
    if let Some((target, brought)) = target(summary) {
        why += &format!("; target {} mL, brought {} mL", decimals(target, 1), decimals(brought, 1));
        if brought < target {
            (standing, word) = (Standing::Look, "target not reached");
        } else if standing == Standing::NoSign {
            (standing, word) = (Standing::Watch, "above the target");
        }
    }
    let number = format!("{} {}", kind_name(kind), got.told("mL/kg", kg, 1));
    Answer::new(QUESTION, standing, word, number, why)
}

/// The longest stretch of large breaths before now.
fn past(summary: &Summary, kg: f64) -> Option<String> {
    let is_large = |row: &Row| row.lung_ml.is_some_and(|ml| ml > FULL * kg);
    let earlier = summary.trusted_between(0.0, summary.seconds - LATE);
    let all = stretches(earlier, is_large, 60.0);
    let (from, to, n) = all.into_iter().filter(|(.., n)| *n >= HELD).max_by_key(|(.., n)| *n)?;
    let (from, to) = (summary.clock(from), summary.clock(to));
    Some(format!("earlier {n} breaths above 8 mL/kg from {from} to {to}"))
}

/// The target volume, and what set-rate inflations of late brought, where that is another: beyond 15 % and 0.3 mL,
/// chosen here, no source.
fn target(summary: &Summary) -> Option<(f64, f64)> {
    let target = summary.settings.proposal()?.target().get().to_num::<f64>();
    let brought = late::lung(summary, BreathKind::Assured).filter(|got| got.count >= FEW)?.median;
    ((brought - target).abs() > (0.15 * target).max(0.3)).then_some((target, brought))
}

/// What a kind of breath of now asks for.
fn judge(got: &Middle, kg: f64, space: f64) -> (Standing, &'static str) {
    match got.median / kg {
        _ if got.median < space => (Standing::Look, "below the dead space"),
        per_kg if per_kg > FULL => (Standing::Look, LARGE),
        per_kg if per_kg > USUAL => (Standing::Watch, "above 6 mL/kg"),
        per_kg if per_kg < LOW => (Standing::Watch, "below 4 mL/kg"),
        _ => (Standing::NoSign, "within usual settings"),
    }
}
