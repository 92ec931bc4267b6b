//! Is the infant carrying the load?

use super::{Answer, Question, Standing};
use crate::figures::Summary;
use crate::text::decimals;
use tidevane::trend::LoadVerdict;

const QUESTION: Question = Question::Load;

pub(super) fn answer(summary: &Summary) -> Answer {
    let steps = &summary.steps.all;
    let Some(step) = steps.last() else { return Answer::unknown(QUESTION, "no step was seen") };
    let index = summary
        .latest
        .zip(summary.settings.weight())
        .and_then(|(tally, weight)| tally.rapid_shallow(weight));
    let number = index.map_or(String::new(), |index| {
        format!("rapid-shallow index {} (rate per mL/kg)", decimals(index.value.value.to_num(), 1))
    });
    let back: Vec<_> = steps
        .iter()
        .enumerate()
        .filter_map(|(i, step)| Some((i + 1, step.asked_back()?)))
        .map(|(n, (at, signs))| format!("step {n} from {} ({signs})", summary.clock(at)))
        .collect();
    let past = if back.is_empty() {
        match steps.len() {
            1 => "no change of rate, peak or support was given".into(),
            n => format!("{n} steps, none asked back"),
        }
    } else {
        format!("a step back was asked for in {}", back.join(", "))
    };
    let since = |at: f64| format!("since {}", summary.clock(at));
    // What was borne before: the way back.
    let borne = steps.iter().rev().skip(1).find(|step| step.asked_back().is_none());
    let before = borne.map_or(String::new(), |step| format!("; before it: {}", step.machine));
    match step.verdicts.last() {
        None => Answer::unknown(QUESTION, format!("the present step is too young; {past}")),
        Some((_, LoadVerdict::CannotTell(why))) => {
            Answer::unknown(QUESTION, format!("{why}; {past}"))
        }
        Some((_, LoadVerdict::StepBack(signs))) => Answer::new(
            QUESTION,
            Standing::Look,
            "overload: consider a step back",
            number,
            format!("{}: {signs}{before}", since(step.asked_back().map_or(0.0, |(at, _)| at))),
        ),
        Some((at, LoadVerdict::Hold(signs))) => Answer::new(
            QUESTION,
            Standing::Watch,
            "hold",
            number,
            format!("{}: {signs}; {past}", since(*at)),
        ),
        Some((_, LoadVerdict::NoSign)) if back.is_empty() => {
            Answer::new(QUESTION, Standing::NoSign, "no sign of overload", number, past)
        }
        Some((_, LoadVerdict::NoSign)) => {
            Answer::new(QUESTION, Standing::Watch, "now no sign; earlier yes", number, past)
        }
    }
}
