//! The shift in short, for whoever takes over.

use super::{gas, trigger};
use crate::doc::Doc;
use crate::figures::{Summary, float, stretches};
use crate::text::{clock, decimals, length, percent};
use tidevane::quantity::{Mass, Span};
use tidevane::trigger::Verdict as Threshold;
use tidevane::wean::{RatioOutcome, TrialOutcome};

pub(super) fn write(doc: &mut Doc, summary: &Summary) {
    doc.section("In short");
    let points = [
        threshold(summary),
        leak(summary),
        weaning(summary),
        now(summary),
        trial(summary),
        alarms(summary),
    ];
    doc.points(&points.into_iter().flatten().collect::<Vec<_>>());
}

fn threshold(summary: &Summary) -> Option<String> {
    let check = summary.trigger?;
    let now = match check.verdict {
        Threshold::Clear => "clear of leak and noise at the end",
        Threshold::InNoise => "within noise or ripple at the end",
        Threshold::BelowLeak => "below the leak at the end",
        Threshold::AboveLeak => "above the leak at the end, noise not known",
        Threshold::Unknown => "not judged at the end",
    };
    let below = trigger::below_leak(summary);
    let when = if below.is_empty() {
        String::new()
    } else {
        format!("; it lay below the leak {}", below.join(", "))
    };
    let cycled: usize = stretches(summary.trusted(), |row| row.self_cycled, 60.0)
        .into_iter()
        .map(|(_, _, n)| n)
        .sum();
    Some(format!(
        "Trigger threshold: {now}{when}. {cycled} inflations were set off by the machine itself."
    ))
}

fn leak(summary: &Summary) -> Option<String> {
    let now = summary.leak?.share().map_or("not known".into(), |s| percent(s.get().to_num()));
    let doubtful = gas::doubtful_from(summary).map_or(String::new(), |when| {
        format!(" Above 40 % {when}: displayed volumes of that time are not to be believed.")
    });
    Some(format!("Leak at the end: {now}.{doubtful}"))
}

fn weaning(summary: &Summary) -> Option<String> {
    let steps = &summary.steps.all;
    let back: Vec<_> = steps
        .iter()
        .enumerate()
        .filter_map(|(i, step)| {
            let (at, signs) = step.asked_back()?;
            Some(format!("step {} at {} ({signs})", i + 1, clock(at)))
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
    Some(format!("Weaning: {} changes of rate, peak or support; {tired}.", steps.len() - 1))
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
    Some(format!(
        "At the end, {} into the present step ({}): {rate}{volume}; load: {verdict}.",
        length(step.to_s - step.from_s),
        step.machine
    ))
}

fn trial(summary: &Summary) -> Option<String> {
    let trial = summary.trial.as_ref()?;
    let ratio = match trial.ratio() {
        RatioOutcome::Reached(s) | RatioOutcome::NotReached(s) => {
            format!("own minute volume {} of that with inflations", percent(s.get().to_num()))
        }
        RatioOutcome::Unknown(_) => "minute-volume ratio not known".into(),
    };
    let (outcome, totals) = trial.book();
    let book = match outcome {
        TrialOutcome::Completed => "3-min breathing trial completed",
        TrialOutcome::Failed { .. } => "3-min breathing trial failed",
        TrialOutcome::Stopped(_) => "breathing trial stopped early",
        TrialOutcome::Running(_) | TrialOutcome::NotBegun => "breathing trial not finished",
        TrialOutcome::Unknown(_) => "breathing trial not watched throughout",
    };
    let low = totals.low_saturation;
    let low = if low > Span::ZERO {
        format!(" with {} of low saturation", length(low.to_us() as f64 / 1e6))
    } else {
        String::new()
    };
    Some(format!(
        "Without inflations from {} for {}: {ratio}; {book}{low}. No verdict follows from these.",
        clock(trial.from_s),
        length(trial.lasted().to_us() as f64 / 1e6)
    ))
}

fn alarms(summary: &Summary) -> Option<String> {
    let rung: u64 = summary.alarms.values().sum();
    Some(match rung {
        0 => "Of the alarms set none would have rung.".into(),
        n => format!("Of the alarms set {n} would have rung."),
    })
}
