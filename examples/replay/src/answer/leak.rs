//! How much gas escapes beside the tube, and can a displayed volume be believed?

use super::late;
use super::{Answer, Question, Standing};
use crate::figures::Summary;
use crate::report::doubtful_from;
use tidevane::leak::{LeakConsistency, VolumeCredibility};

const QUESTION: Question = Question::Leak;
/// So much more out than in is no noise: a sensor off its zero or gain, or the wrong gas. Chosen here, no
/// source.
const OUT: f64 = 0.1;

pub(super) fn answer(summary: &Summary) -> Answer {
    let Some((seen, belief)) = late::leak(summary) else {
        return Answer::unknown(QUESTION, "no trusted breath in the last 3 min tells");
    };
    let past = doubtful_from(summary);
    let (standing, word) = match belief {
        _ if seen.median < -OUT => (Standing::Look, "more comes out than goes in"),
        VolumeCredibility::TargetingHopeless => (Standing::Look, "volume targeting may fail"),
        VolumeCredibility::Unreliable => (Standing::Look, "displayed volume unreliable"),
        VolumeCredibility::Usable if past.is_some() => (Standing::Watch, "usable now; not always"),
        VolumeCredibility::Usable => (Standing::NoSign, "displayed volume usable"),
    };
    let fits = match summary.leak_fit {
        LeakConsistency::Unknown => "what the flow past the lung is, is not known; ".to_owned(),
        fit => format!("{fit}; "),
    };
    let why = past.map_or_else(
        || format!("{fits}never above 40 %, where a displayed tidal volume stops being usable"),
        |when| format!("above 40 % {when}: displayed volumes of that time are not to be believed"),
    );
    Answer::new(QUESTION, standing, word, seen.percent(), why)
}
