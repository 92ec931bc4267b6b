//! Which alarm level catches every own breath without ringing all shift?

use super::late;
use super::{Answer, Question, Standing};
use crate::config::Bedside;
use crate::figures::Summary;
use crate::report::levels::{advice, doubt, latest};
use crate::text::{KINDS, kind_name, percent, times};
use tidevane::alarm::{BreathKind, Level, NoLevel};

const QUESTION: Question = Question::Levels;
/// Rings an hour above which an alarm is heard less: chosen here, no source.
const OFTEN: f64 = 6.0;
/// And the part of the time, chosen here too.
const MUCH: f64 = 0.1;

pub(super) fn answer(summary: &Summary, bedside: &Bedside) -> Answer {
    let Some(weight) = summary.settings.weight() else {
        return Answer::unknown(
            QUESTION,
            "no weight was given, and so no dead space to stand above",
        );
    };
    let Ok(advice) = advice(summary, bedside, weight) else {
        return Answer::unknown(QUESTION, "no advice can be made for this weight");
    };
    // What has no assured volume first.
    let kinds = KINDS.into_iter().rev();
    let is_now = |kind| late::rows(summary).filter(|row| row.whose == kind).count() >= late::FEW;
    let advised = |kind| {
        let (step, history) = latest(summary, &advice, kind)?;
        Some((kind_name(kind), step, advice.advise(history, kind)))
    };
    let now = kinds.clone().filter(|kind| is_now(*kind)).find_map(advised);
    let Some((name, step, level)) = now.or_else(|| kinds.clone().find_map(advised)) else {
        return Answer::unknown(QUESTION, "fewer than thirty breaths of a kind were seen");
    };
    // None to be had for own breaths, even of an earlier step, is told: they come back as support goes.
    let own = advised(BreathKind::Own).filter(|(.., level)| matches!(level, Level::None(_)));
    let own = own.filter(|_| !is_now(BreathKind::Own));
    if let Some(why) = doubt(summary) {
        return Answer::unknown(QUESTION, why);
    }
    let hours = (summary.seconds / 3_600.0).max(1.0);
    let rings = summary.rings.iter().len();
    let is_loud = rings as f64 / hours > OFTEN || summary.rings.share(summary.seconds) > MUCH;
    let rang = match summary.rings.iter().next_back() {
        None if summary.has_limits => "of the alarms set none would have rung".to_owned(),
        None => "no limit of volume, rate, pressure or leak was set".to_owned(),
        Some(last) => {
            let (rang, at) = (times(rings as u64), summary.clock(last.from_s));
            format!("those set would have rung {rang}, the last at {at}: {}", last.name)
        }
    };
    let (standing, word, number) = match level {
        Level::Set { level, captures, .. } => (
            if is_loud || own.is_some() { Standing::Watch } else { Standing::NoSign },
            format!("{level:.1}"),
            format!(
                "reached by {} of the {name} breaths of step {step}",
                percent(captures.get().to_num())
            ),
        ),
        Level::None(NoLevel::UnderDeadSpace { would_be }) => (
            Standing::Look,
            format!("none serves {name} breaths"),
            format!("95 % of them reach only {would_be:.1}"),
        ),
        Level::None(_) => return Answer::unknown(QUESTION, format!("{name} breaths do not tell")),
    };
    let earlier = own.map_or(String::new(), |(_, step, _)| {
        format!("no level served the own breaths of step {step}; ")
    });
    let why = format!("by step {step}; {earlier}{rang}");
    Answer::new(QUESTION, standing, word, number, why)
}
