//! Is the threshold above leak, noise and ripple, and below the infant's effort?

use super::late;
use super::{Answer, Question, Standing};
use crate::figures::Summary;
use tidevane::leak::VolumeCredibility;
use tidevane::quantity::Share;
use tidevane::trigger::{ThresholdAnswer, TriggerKind};

const QUESTION: Question = Question::Threshold;
/// Missed efforts of all: called severe asynchrony in adults (Anesthesiology 2021;134:629).
const TENTH: Share = Share::from_percent(10);
const HALF: Share = Share::from_percent(50);

pub(super) fn answer(summary: &Summary) -> Answer {
    let machine = summary.settings.machine();
    if machine.trigger != TriggerKind::Flow {
        let why = format!("the trigger does not watch the flow ({})", machine.trigger);
        return Answer::unknown(QUESTION, why);
    }
    if machine.threshold.is_none() {
        return Answer::unknown(QUESTION, "no threshold was given");
    }
    let Some((_, judged, set)) = summary.judged.last() else {
        return Answer::unknown(QUESTION, "no breath was seen under it");
    };
    let set = set.to_l_per_min();
    if let Some(largest) = summary.below_threshold() {
        let word = "above every effort seen";
        let number = format!("set {set:.2} L/min, no effort above {largest:.2}");
        let why = "no effort seen reaches it unless leak adds to it: the machine answers none, or it is not what is set";
        return Answer::new(QUESTION, Standing::Look, word, number, why);
    }
    let (standing, word) = match judged.answer {
        ThresholdAnswer::Keep if may_miss(summary, set.to_num()) => {
            (Standing::Watch, format!("{set:.2} L/min may miss efforts"))
        }
        ThresholdAnswer::Keep => (Standing::NoSign, format!("keep {set:.2} L/min")),
        ThresholdAnswer::Just => (Standing::Watch, format!("{set:.2} L/min just clears")),
        ThresholdAnswer::Raise(to) => {
            (Standing::Look, format!("raise to {:.2} L/min", to.threshold.to_l_per_min()))
        }
        // Efforts that are missed weigh less than inflations nobody asked for, unless they are many.
        ThresholdAnswer::Lower(to) => {
            let many = judged.whole.missed_share().is_some_and(|missed| missed > TENTH);
            let standing = if many { Standing::Look } else { Standing::Watch };
            (standing, format!("lower to {:.2} L/min", to.threshold.to_l_per_min()))
        }
        ThresholdAnswer::NoLevel(_) => (Standing::Look, "no level serves".into()),
        ThresholdAnswer::CannotTell(why) => return Answer::unknown(QUESTION, why.to_string()),
    };
    let number = judged.margin.map_or_else(
        || format!("set {set:.2} L/min"),
        |margin| format!("margin {:.2} L/min", margin.to_l_per_min()),
    );
    let whole = &judged.whole;
    let leaks = late::leak(summary).is_some_and(|(_, belief)| belief != VolumeCredibility::Usable);
    let first = if leaks { "the leak first: the threshold has to clear it; " } else { "" };
    let why = format!(
        "{first}since it was set: {} of {} inflations set off by the machine itself, {} of {} efforts missed",
        whole.self_cycled,
        whole.inflations,
        whole.missed,
        whole.efforts()
    );
    Answer::new(QUESTION, standing, word, number, why)
}

/// Whether of the efforts heard more than half may be too small for a threshold: their size was hidden.
fn may_miss(summary: &Summary, lpm: f64) -> bool {
    let below = summary
        .expected
        .iter()
        .rev()
        .find(|e| e.threshold.to_l_per_min().to_num::<f64>() <= lpm + 0.001);
    below.and_then(|e| e.missed_at_most).is_some_and(|missed| missed > HALF)
}
