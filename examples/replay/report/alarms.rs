//! Which alarm level catches every own breath without ringing all shift.

use crate::doc::Doc;
use crate::figures::{Summary, float};
use crate::text::{decimals, percent};
use tidevane::alarm::{
    BreathKind, Level, LevelAdvice, LimitAlarm, Limits, NoLevel, anatomical_dead_space,
};
use tidevane::quantity::{Span, Volume};

pub(super) fn write(doc: &mut Doc, summary: &Summary) {
    doc.section("Which low-volume level would catch the infant's own breaths?");
    levels(doc, summary);
    if summary.alarms.is_empty() {
        return doc.say("No alarm of those set would have rung.");
    }
    let rung: Vec<_> = summary.alarms.iter().map(|(name, n)| format!("{name} {n} times")).collect();
    let burden = &summary.burden;
    let per_hour = burden.per_hour(Span::from_us((summary.seconds * 1e6) as u64));
    doc.say(format!(
        "Of the alarms set these would have rung: {}. In all {} an hour{}.",
        rung.join(", "),
        per_hour.map_or("-".into(), |n| decimals(n.to_num(), 1)),
        burden.brief_share().map_or(String::new(), |s| format!(
            ", {} for less than a minute",
            percent(s.get().to_num())
        ))
    ));
}

/// The level for each kind of breath, never under the dead space.
fn levels(doc: &mut Doc, summary: &Summary) {
    let Some(weight) = summary.settings.weight() else {
        return doc.say(
            "Not known: without a weight (--weight-g) the dead space is not known, below which a \
             level would hide a breath that ventilates nothing.",
        );
    };
    let floor = anatomical_dead_space(weight, Span::ZERO);
    let advice = match LevelAdvice::new(floor, 95) {
        Ok(advice) => advice,
        Err(error) => return doc.say(format!("Not known: {error}.")),
    };
    let named = [
        (BreathKind::Own, "own"),
        (BreathKind::Supported, "supported"),
        (BreathKind::Assured, "assured"),
    ];
    let mut points = Vec::new();
    for (kind, name) in named {
        let level = advice.advise(&summary.volumes, kind);
        points.push(match level {
            Level::Set { level, captures } => format!(
                "A level of {level:.1} is reached by {} of {name} breaths{}",
                percent(captures.get().to_num()),
                rehearsed(summary, kind, level)
            ),
            Level::None(NoLevel::UnderDeadSpace { would_be }) => format!(
                "None to recommend for {name} breaths: 95 % of them reach only {would_be:.1}. Such \
                 breaths may ventilate nothing; an alarm must not be silenced for them."
            ),
            Level::None(_) if kind == BreathKind::Supported => continue,
            Level::None(_) => {
                format!("Not known: fewer than thirty {name} breaths were seen.")
            }
        });
    }
    doc.points(&points);
    let assured = match advice.advise(&summary.volumes, BreathKind::Assured) {
        Level::Set { level, .. } => rehearsed(summary, BreathKind::Own, level),
        Level::None(_) => String::new(),
    };
    if !assured.is_empty() {
        doc.say(format!("The level of assured breaths, set on own breaths{assured}"));
    }
    doc.say(format!(
        "No level under the anatomical dead space of {} mL is recommended (Numa and Newth 1996, \
         J Appl Physiol): a breath no larger ventilates nothing.",
        decimals(float(floor.to_bits()), 1)
    ));
}

/// What a level would have done to the latest breaths of a kind.
fn rehearsed(summary: &Summary, kind: BreathKind, level: Volume) -> String {
    let delay = Span::from_millis(10_000);
    let alarm = Limits::new(Some(level), None)
        .and_then(|limits| LimitAlarm::new(limits, delay, Volume::from_bits(6_554), false));
    let Ok(alarm) = alarm else { return String::new() };
    let seen = summary.volumes.rehearse(kind, &alarm);
    if seen.breaths == 0 {
        return String::new();
    }
    format!(
        ": of the last {} of these breaths {} were under it, in {} runs, of which {} lasted the 10 s \
         that an alarm waits.",
        seen.breaths, seen.below, seen.runs, seen.rang
    )
}
