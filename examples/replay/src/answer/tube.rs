//! Can the tube come out? Numbers beside published ones, never a verdict.

use super::{Answer, Question, Standing};
use crate::figures::Summary;
use crate::steps::Step;
use crate::text::{decimals, length, percent};
use tidevane::bedside::{BELOW_THRESHOLD_GROUPS, RatioOutcome, SHALLOW_CUTOFFS, TrialOutcome};
use tidevane::quantity::Duration;

const QUESTION: Question = Question::Tube;

pub(super) fn answer(summary: &Summary) -> Answer {
    let Some(trial) = &summary.trial else {
        return Answer::unknown(QUESTION, "no trial without inflations and support was given");
    };
    let own = trial.readiness.own_per_kg(&trial.state).map(|v| v.get().to_num::<f64>());
    let lowest = BELOW_THRESHOLD_GROUPS
        .iter()
        .map(|g| g.median.get().to_num::<f64>())
        .fold(f64::MAX, f64::min);
    let is_small = own.is_some_and(|own| own < lowest);
    let failed = matches!(trial.state.trial(), TrialOutcome::Failed { .. });
    let lasted = length(trial.state.lasted().to_us() as f64 / 1e6);
    let stretch = format!(
        "own breathing from {} for {lasted}; 3-min trial: {}; no verdict follows from these",
        summary.clock(trial.from_s),
        crate::report::trial(&trial.state)
    );
    let number = own.map_or(String::new(), |own| {
        format!(
            "own {} mL/kg/min (median of those who failed: {})",
            decimals(own, 0),
            decimals(lowest, 0)
        )
    });
    let against = against(summary, is_small);
    let (standing, word) = match trial.readiness.ratio(&trial.state) {
        _ if failed => (Standing::Look, "breathing trial failed".to_owned()),
        RatioOutcome::NotReached(share) => {
            (Standing::Look, format!("ratio {} of 50 % not reached", percent(share.get().to_num())))
        }
        RatioOutcome::Reached(share) if against.is_empty() && !rest_known(summary) => {
            let word =
                format!("ratio {} reached, the rest not known", percent(share.get().to_num()));
            (Standing::Watch, word)
        }
        RatioOutcome::Reached(share) if against.is_empty() => {
            (Standing::NoSign, format!("ratio {} reached", percent(share.get().to_num())))
        }
        RatioOutcome::Reached(share) => {
            let ratio = format!("ratio {} reached", percent(share.get().to_num()));
            let stretch = format!("{}; for it: {ratio}; {stretch}", against.join(", "));
            return Answer::new(QUESTION, Standing::Watch, "the numbers disagree", number, stretch);
        }
        RatioOutcome::Unknown(why) => {
            return Answer::unknown(QUESTION, format!("{why}; {stretch}"));
        }
    };
    Answer::new(QUESTION, standing, word, number, stretch)
}

/// Whether what could speak against it was told: weight, heart and saturation.
fn rest_known(summary: &Summary) -> bool {
    summary.trial.as_ref().is_some_and(|trial| {
        trial.readiness.own_per_kg(&trial.state).is_some()
            && trial.readiness.rapid_shallow(&trial.state).is_some()
            && !matches!(trial.state.trial(), TrialOutcome::Unknown(_))
    })
}

/// What speaks against it while the minute-volume ratio speaks for it.
fn against(summary: &Summary, is_small: bool) -> Vec<String> {
    let Some(trial) = &summary.trial else { return Vec::new() };
    let mut against = Vec::new();
    if is_small {
        against.push("own minute volume below the median of those who failed".to_owned());
    }
    let index = trial.readiness.rapid_shallow(&trial.state);
    if index.is_some_and(|index| SHALLOW_CUTOFFS.iter().any(|cutoff| cutoff.is_below(&index))) {
        against.push("rapid-shallow index above a published cut-off".into());
    }
    if trial.state.low_saturation() > Duration::ZERO {
        against.push("low saturation".into());
    }
    let tired = |step: &Step| step.from_s == trial.from_s && step.asked_back().is_some();
    if summary.steps.all.iter().any(tired) {
        against.push("a step back was asked for in it".into());
    }
    against
}
