//! Which alarm level catches every own breath without ringing all shift.

use crate::doc::Doc;
use crate::figures::{Summary, float};
use crate::text::{clock, decimals, percent, times};
use tidevane::alarm::{
    BreathKind, Level, LevelAdvice, LimitAlarm, Limits, NoLevel, VolumeHistory,
    anatomical_dead_space,
};
use tidevane::quantity::{Span, Volume};

pub(super) fn write(doc: &mut Doc, summary: &Summary, set: &[String]) {
    doc.section("Which low-volume level would catch the infant's own breaths?");
    levels(doc, summary);
    doc.say(format!("Alarms set here to rehearse: {}.", set.join(", ")));
    if summary.alarms.is_empty() {
        doc.say("None of them would have rung.");
    } else {
        let rung: Vec<_> =
            summary.alarms.iter().map(|(name, n)| format!("{name} {}", times(*n))).collect();
        let burden = &summary.burden;
        let per_hour = burden.per_hour(Span::from_us((summary.seconds * 1e6) as u64));
        let brief = burden.brief_share().map_or(String::new(), |s| {
            format!(", {} for less than a minute", percent(s.get().to_num()))
        });
        doc.say(format!(
            "These would have rung: {}. In all {} an hour{brief}.",
            rung.join(", "),
            per_hour.map_or("-".into(), |n| decimals(n.to_num(), 1)),
        ));
    }
    while_tiring(doc, summary);
}

/// Whether any rang while a step back was asked for.
fn while_tiring(doc: &mut Doc, summary: &Summary) {
    for (i, step) in summary.steps.all.iter().enumerate() {
        let Some((from, _)) = step.asked_back() else { continue };
        let during = |at: f64| at >= from && at <= step.to_s;
        let rang: Vec<_> = summary
            .rang
            .iter()
            .filter(|(at, _)| during(*at))
            .map(|(at, name)| format!("{name} at {}", clock(*at)))
            .collect();
        doc.say(format!(
            "While a step back was asked for in step {}, from {} to {}, {} rang.",
            i + 1,
            clock(from),
            clock(step.to_s),
            if rang.is_empty() { "none".into() } else { rang.join(", ") }
        ));
    }
}

/// The level for each kind of breath, never under the dead space.
fn levels(doc: &mut Doc, summary: &Summary) {
    let Some(weight) = summary.settings.weight() else {
        return doc.say(
            "Not known: without a weight (--weight-g) the dead space is not known, below which a \
             level would hide a breath that ventilates little.",
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
    let mut assured = None;
    for (kind, name) in named {
        let Some((step, history)) = latest(summary, &advice, kind) else {
            if kind != BreathKind::Supported {
                points.push(format!("Not known: fewer than thirty {name} breaths were seen."));
            }
            continue;
        };
        points.push(match advice.advise(history, kind) {
            Level::Set { level, captures } => {
                if kind == BreathKind::Assured {
                    assured = Some(level);
                }
                format!(
                    "Step {step}: a level of {level:.1} is reached by {} of its {name} breaths{}",
                    percent(captures.get().to_num()),
                    rehearsed(history, kind, level)
                )
            }
            Level::None(NoLevel::UnderDeadSpace { would_be }) => format!(
                "Step {step}: none to recommend for {name} breaths, 95 % of which reach only \
                 {would_be:.1}. Such breaths may ventilate little; an alarm must not be silenced for \
                 them."
            ),
            Level::None(_) => format!("Not known for {name} breaths."),
        });
    }
    doc.points(&points);
    if let Some(level) = assured
        && let Some((step, history)) = latest(summary, &advice, BreathKind::Own)
    {
        doc.say(format!(
            "The level of assured breaths, {level:.1}, set on the own breaths of step {step}{}",
            rehearsed(history, BreathKind::Own, level)
        ));
    }
    doc.say(format!(
        "Each kind by the latest step that had thirty of it, without breaths under a leak above \
         40 %. No level under {} mL is recommended, the whole anatomical dead space at 3.28 mL/kg, \
         upper airway included (Numa and Newth 1996, J Appl Physiol); a tube bypasses part of it, \
         and sensor and connector add to it.",
        decimals(float(floor.to_bits()), 1)
    ));
}

/// The latest step with enough breaths of a kind, by its number, and their volumes.
fn latest<'a>(
    summary: &'a Summary,
    advice: &LevelAdvice,
    kind: BreathKind,
) -> Option<(usize, &'a VolumeHistory)> {
    let enough = |history: &VolumeHistory| {
        advice.advise(history, kind) != Level::None(NoLevel::TooFewBreaths)
    };
    let found = summary.volumes.iter().enumerate().rev().find(|(_, history)| enough(history));
    found.map(|(i, history)| (i + 1, history))
}

/// What a level would have done to the latest breaths of a kind.
fn rehearsed(history: &VolumeHistory, kind: BreathKind, level: Volume) -> String {
    let delay = Span::from_millis(10_000);
    let alarm = Limits::new(Some(level), None)
        .and_then(|limits| LimitAlarm::new(limits, delay, Volume::from_bits(6_554), false));
    let Ok(alarm) = alarm else { return String::new() };
    let seen = history.rehearse(kind, &alarm);
    if seen.breaths == 0 {
        return String::new();
    }
    format!(
        ": of the last {} of these breaths {} were under it, in {} runs, of which {} lasted the 10 s \
         that an alarm waits.",
        seen.breaths, seen.below, seen.runs, seen.rang
    )
}
