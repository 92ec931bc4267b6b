//! Which low-volume level catches every own breath without ringing all shift.

use super::belief;
use crate::config::Bedside;
use crate::doc::Doc;
use crate::figures::{LATE, Summary, float};
use crate::spread::quantile;
use crate::text::{KINDS, decimals, kind_name, many, percent};
use tidevane::alarm::{
    BreathKind, Level, LevelAdvice, LevelBy, LimitAlarm, Limits, NoLevel, VolumeHistory,
};
use tidevane::bedside::anatomical_dead_space;
use tidevane::leak::VolumeCredibility;
use tidevane::quantity::{Duration, Mass, Volume};
use tidevane::trend::LoadVerdict;

/// The level for each kind of breath, never under the dead space; and one for all.
pub(super) fn write(doc: &mut Doc, summary: &Summary, bedside: &Bedside) {
    let Some(weight) = summary.settings.weight() else {
        return doc.say(
            "Not known: without a weight (--weight-g) the dead space is not known, below which a \
             level would hide a breath that ventilates little.",
        );
    };
    let advice = match advice(summary, bedside, weight) {
        Ok(advice) => advice,
        Err(error) => return doc.say(format!("Not known: {error}.")),
    };
    if let Some(why) = doubt(summary) {
        doc.say(format!("None is advised now: {why}. Below: what the steps before would advise."));
    }
    let mut points = Vec::new();
    let mut assured = None;
    for kind in KINDS.into_iter().rev() {
        let name = kind_name(kind);
        let Some((step, history)) = latest(summary, &advice, kind) else {
            if kind != BreathKind::Supported {
                points.push(format!("Not known: fewer than thirty {name} breaths were seen."));
            }
            continue;
        };
        points.push(match advice.advise(history, kind) {
            Level::Set { level, captures, by } => {
                if kind == BreathKind::Assured {
                    assured = Some(level);
                }
                format!(
                    "Step {step}: a level of {level:.1} is reached by {} of all its {name} breaths{}{}",
                    percent(captures.get().to_num()),
                    held(by),
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
    points.extend(one_for_all(summary, &advice));
    doc.points(&points);
    if let Some(level) = assured
        && let Some((step, history)) = latest(summary, &advice, BreathKind::Own)
    {
        doc.say(format!(
            "The level of set-rate breaths, {level:.1}, set on the own breaths of step {step}{}",
            rehearsed(history, BreathKind::Own, level)
        ));
    }
    doc.say(format!(
        "Each kind by the latest step that had thirty of it, without breaths under a leak above 40 %; at \
         most 80 % of the median (chosen here, no source), and no more than {}. No level under {} mL is \
         recommended, the whole anatomical dead space at 3.28 mL/kg, upper airway included (Numa and \
         Newth 1996, J Appl Physiol); a tube bypasses part of it, and sensor and connector add to it.",
        need(summary, bedside, weight).1,
        decimals(float(anatomical_dead_space(weight, Duration::ZERO).value.to_bits()), 1)
    ));
}

/// Why no level of the volumes of now is advised, where none is.
pub(crate) fn doubt(summary: &Summary) -> Option<String> {
    let late = summary.trusted_since(summary.seconds - LATE);
    let leak = quantile(late.filter_map(|row| row.leak_window), 0.5);
    if let Some(leak) = leak.filter(|leak| belief(*leak) != VolumeCredibility::Usable) {
        let leak = percent(leak);
        return Some(format!(
            "{leak} leaks: what comes back at the sensor is no volume to ring by"
        ));
    }
    let last = summary.steps.all.last().and_then(|step| step.verdicts.last());
    matches!(last, Some((_, LoadVerdict::StepBack(_))))
        .then(|| "what an infant with signs of overload reaches is no level to ring by".into())
}

/// The level advice for this infant: never under the dead space, never above target or need.
pub(crate) fn advice(
    summary: &Summary,
    bedside: &Bedside,
    weight: Mass,
) -> Result<LevelAdvice, tidevane::quantity::SettingError> {
    let advice = LevelAdvice::new(anatomical_dead_space(weight, Duration::ZERO).value, 95)?;
    Ok(match need(summary, bedside, weight).0 {
        Some(most) => advice.with_most(most),
        None => advice,
    })
}

/// What a breath has to move: the target, or the minute volume needed at the rate of the last minutes.
fn need(summary: &Summary, bedside: &Bedside, weight: Mass) -> (Option<Volume>, String) {
    if let Some(proposal) = summary.settings.proposal() {
        return (Some(proposal.target()), format!("the target of {:.1}", proposal.target()));
    }
    // The upper end of usual settings: no low level is needed above that.
    let usual = Volume::from_int(6).for_each_kg(weight).value;
    let needed = bedside.needed.unwrap_or(super::plan::NEEDED);
    let rate = summary.latest.and_then(|t| t.rate()).map(|rate| float(rate.to_bits()));
    let Some(rate) = rate.filter(|rate| *rate > 0.0) else {
        return (Some(usual), format!("{usual:.1}, 6 mL/kg"));
    };
    let ml = float(needed.to_bits()) * f64::from(weight.grams()) / 1_000.0 / rate;
    let each = Volume::from_bits((ml * 65_536.0) as i32);
    if each > usual {
        return (Some(usual), format!("{usual:.1}, 6 mL/kg"));
    }
    (
        Some(each),
        format!(
            "{each:.1}, with which each breath at the rate of the last minutes makes {} mL/kg a minute",
            decimals(float(needed.to_bits()), 0)
        ),
    )
}

fn held(by: LevelBy) -> &'static str {
    match by {
        LevelBy::Breaths => "",
        LevelBy::Median => " (held at 80 % of their median)",
        LevelBy::Need => " (held at target or need)",
        LevelBy::Floor => " (the dead space; nearer to their median than 80 %)",
    }
}

fn one_for_all(summary: &Summary, advice: &LevelAdvice) -> Option<String> {
    let known =
        |history: &VolumeHistory| advice.advise_one(history) != Level::None(NoLevel::TooFewBreaths);
    let (i, history) = summary.volumes.iter().enumerate().rev().find(|(_, h)| known(h))?;
    let step = i + 1;
    Some(match advice.advise_one(history) {
        Level::Set { level, .. } => format!(
            "For a machine that has one level for all breaths: {level:.1}, the lowest of those of step \
             {step}; the larger kinds are guarded less."
        ),
        Level::None(_) => format!(
            "For a machine that has one level for all breaths none serves in step {step}: one of its \
             kinds lies under the dead space."
        ),
    })
}

/// The latest step with enough breaths of a kind, by its number, and their volumes.
pub(crate) fn latest<'a>(
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
    let delay = Duration::from_millis(10_000);
    let alarm = Limits::new(Some(level), None)
        .and_then(|limits| LimitAlarm::new(limits, delay, Volume::from_bits(6_554), false));
    let Ok(alarm) = alarm else { return String::new() };
    let seen = history.rehearse(kind, &alarm);
    if seen.breaths == 0 {
        return String::new();
    }
    format!(
        "; of the last {} of these breaths alone {} under it, in {}, of which {} lasted the 10 s that an alarm \
         waits.",
        seen.breaths,
        many(seen.below as usize, "was", "were"),
        many(seen.runs as usize, "run", "runs"),
        seen.rang
    )
}
