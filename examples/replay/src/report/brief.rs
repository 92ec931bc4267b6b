//! The shift in short, for whoever takes over.

use super::{extubation, gas, large, trigger};
use crate::doc::Doc;
use crate::figures::{Summary, float, quantile};
use crate::text::{clock, decimals, length, percent, times};
use tidevane::quantity::Mass;
use tidevane::trigger::{Cause, CountAccuracy, ThresholdAnswer};
use tidevane::wean::{BELOW_THRESHOLD_GROUPS, RatioOutcome};

pub(super) fn write(doc: &mut Doc, summary: &Summary) {
    doc.section("In short");
    let points = [
        now(summary),
        weaning(summary),
        leak(summary),
        large(summary),
        target(summary),
        threshold(summary),
        trial(summary),
        alarms(summary),
    ];
    doc.points(&points.into_iter().flatten().collect::<Vec<_>>());
}

fn threshold(summary: &Summary) -> Option<String> {
    let ((_, judged, set), before) = summary.judged.split_last()?;
    let mut said = format!("Trigger threshold {:.2} L/min: {judged}.", set.to_l_per_min());
    if let Some(seen) = CountAccuracy::of_cause(Cause::SelfRipple)
        && judged.whole.self_cycled == 0
    {
        said += &format!(
            " Of those set off by ripple or water {} are recognised in simulations.",
            percent(seen.sensitivity.get().to_num())
        );
    }
    // What was set before, where anything spoke against it.
    for (until, judged, set) in
        before.iter().filter(|(_, judged, _)| judged.answer != ThresholdAnswer::Keep)
    {
        said += &format!(" Until {}, {:.2} L/min: {judged}.", clock(*until), set.to_l_per_min());
    }
    let below = trigger::below_leak(summary);
    if !below.is_empty() {
        said += &format!(" What was set lay below the leak {}.", below.join(", "));
    }
    Some(said)
}

fn leak(summary: &Summary) -> Option<String> {
    let now = summary.leak?.share().map_or("not known".into(), |s| percent(s.get().to_num()));
    let doubtful = gas::doubtful_from(summary).map_or(String::new(), |when| {
        format!(" Above 40 % {when}: displayed volumes of that time are not to be believed.")
    });
    Some(format!("Leak at the end: {now}.{doubtful}"))
}

fn target(summary: &Summary) -> Option<String> {
    let (held, n, since) = summary.target.now()?;
    let proposal = summary.settings.proposal()?;
    Some(format!(
        "Target of {:.1}: held {held} since {}, {n} inflations in a row.",
        proposal.target(),
        clock(since)
    ))
}

fn large(summary: &Summary) -> Option<String> {
    let kinds = large::now(summary)?;
    Some(format!("Above 6 and 8 mL/kg in the lung in the last three minutes: {kinds}."))
}

fn weaning(summary: &Summary) -> Option<String> {
    let steps = &summary.steps.all;
    let back: Vec<_> = steps
        .iter()
        .enumerate()
        .filter_map(|(i, step)| {
            let (at, signs) = step.asked_back()?;
            let (step_no, to) = (i + 1, clock(step.to_s));
            Some(format!("step {step_no} from {} on ({signs}); it lasted until {to}", clock(at)))
        })
        .collect();
    if steps.len() == 1 && back.is_empty() {
        return None;
    }
    let tired = if back.is_empty() {
        "none of them asked for a step back".into()
    } else {
        format!("a step back was asked for in {}", back.join(", "))
    };
    let young = match steps.iter().filter(|step| step.verdicts.is_empty()).count() {
        0 => String::new(),
        n => format!("; {n} of {} steps were too short to be judged", steps.len()),
    };
    Some(format!("Weaning: {} changes of rate, peak or support; {tired}{young}.", steps.len() - 1))
}

fn now(summary: &Summary) -> Option<String> {
    let step = summary.steps.all.last()?;
    let verdict = step
        .verdicts
        .last()
        .map_or("cannot tell: the step is too young".into(), |(_, v)| v.to_string());
    let volume = summary.latest.and_then(|t| t.minute_volume()).map_or(String::new(), |v| {
        let ml = float(v.to_bits());
        match summary.settings.weight().map(Mass::grams) {
            Some(g) => {
                format!(", {} mL/kg a minute", decimals(ml / f64::from(g) * 1_000.0, 0))
            }
            None => format!(", {} mL a minute", decimals(ml, 0)),
        }
    });
    let rate = summary.latest.and_then(|t| t.rate()).map_or("rate not known".into(), |r| {
        format!("{} breaths a minute", decimals(float(r.to_bits()), 0))
    });
    let base = quantile(summary.trusted().rev().take(8).map(|row| row.baseline), 0.5)
        .map_or(String::new(), |base| format!(", baseline {} seen", decimals(base, 1)));
    Some(format!(
        "At the end, {} into the present step ({}{base}): {rate}{volume}; load: {verdict}.",
        length(step.to_s - step.from_s),
        step.machine
    ))
}

fn trial(summary: &Summary) -> Option<String> {
    let trial = summary.trial.as_ref()?;
    let ratio = match trial.readiness.ratio(&trial.state) {
        RatioOutcome::Reached(s) | RatioOutcome::NotReached(s) => {
            format!("own minute volume {} of that with inflations", percent(s.get().to_num()))
        }
        RatioOutcome::Unknown(_) => "minute-volume ratio not known".into(),
    };
    let own = trial.readiness.own_per_kg(&trial.state).map_or(String::new(), |volume| {
        let groups: Vec<_> = BELOW_THRESHOLD_GROUPS
            .iter()
            .map(|g| format!("{} {}", g.group, decimals(float(g.median.to_bits()), 0)))
            .collect();
        let ml = decimals(float(volume.to_bits()), 0);
        format!("; own minute volume {ml} mL/kg (published medians: {})", groups.join(", "))
    });
    let index = trial.readiness.rapid_shallow(&trial.state).map_or(String::new(), |i| {
        format!("; rapid-shallow index {} per mL/kg", decimals(i.value.value.to_num(), 1))
    });
    Some(format!(
        "Without inflations from {} for {}: {ratio}{own}{index}; 3-min breathing trial: {}. No verdict \
         follows from these.",
        clock(trial.from_s),
        length(trial.state.lasted().to_us() as f64 / 1e6),
        extubation::trial(&trial.state)
    ))
}

fn alarms(summary: &Summary) -> Option<String> {
    if summary.alarms.is_empty() {
        let limits = if summary.has_limits {
            ""
        } else {
            " No limit of volume, rate, pressure or leak was set."
        };
        return Some(format!("Of the alarms set none would have rung.{limits}"));
    }
    let rung: Vec<_> =
        summary.alarms.iter().map(|(name, n)| format!("{name} {}", times(*n))).collect();
    Some(format!("Of the alarms set these would have rung: {}.", rung.join(", ")))
}
