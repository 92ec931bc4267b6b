//! Which inflations did the infant ask for?

use super::late;
use super::{Answer, Question, Standing};
use crate::figures::{LATE, Summary};
use crate::row::{Row, stretches};
use crate::spread::interval;
use crate::text::{many, percent};
use tidevane::breath::Kind;
use tidevane::trigger::{Cause, CountAccuracy, NoCause, NoJudgement, ThresholdAnswer, TriggerKind};

const QUESTION: Question = Question::Asked;
/// From this share on it is a matter to look at: a tenth is called severe in adults (Anesthesiology
/// 2021;134:629).
const MANY: f64 = 0.1;
/// And from this on one to watch: chosen here, no source.
const SOME: f64 = 0.02;
/// So many in a stretch of the past are told.
const STRETCH: usize = 10;

pub(super) fn answer(summary: &Summary) -> Answer {
    let inflations = || late::rows(summary).filter(|row| row.kind == Kind::Inflation);
    let all = inflations().count();
    let count =
        |is: fn(Cause) -> bool| inflations().filter(|row| row.cause.is_some_and(is)).count();
    let cycled = count(Cause::is_self_cycled);
    let unknown = count(|cause| matches!(cause, Cause::Unknown(_)));
    let efforts = count(|cause| matches!(cause, Cause::Effort));
    let from = summary.seconds - LATE;
    // Those during an inflation are counted less surely, and are none of the published share.
    let late = summary.missed.iter().rev().take_while(|(at, _)| *at >= from);
    let missed = late.filter(|(_, in_expiration)| *in_expiration).count();
    let doubled = summary.doubled.iter().rev().take_while(|at| **at >= from).count();
    if all == 0 {
        return Answer::unknown(QUESTION, "no inflation in the last 3 min");
    }
    if 4 * unknown > all {
        let late = [NoCause::FlowLate, NoCause::PressureLate].into_iter().find(|why| {
            let is = |row: &Row| row.cause == Some(Cause::Unknown(*why));
            2 * inflations().filter(is).count() > unknown
        });
        let why = late.map_or(String::new(), |why| format!(": {why}"));
        let of = format!("the cause of {unknown} of the last {all} inflations is not known{why}");
        return Answer::unknown(QUESTION, of);
    }
    let machine = summary.settings.machine();
    if machine.threshold.is_none() || machine.trigger != TriggerKind::Flow {
        // Then no inflation is called the machine's own: none seen is none looked for.
        let why = format!(
            "without a flow threshold no self-cycling is told; {efforts} of {all} on an effort"
        );
        return Answer::unknown(QUESTION, why);
    }
    let clock = clock(summary);
    let share = |part: usize, whole: usize| part as f64 / whole.max(1) as f64;
    let (cycles, misses) = (share(cycled, all), share(missed, efforts + missed));
    let doubles = share(doubled, all);
    let past = past(summary);
    // What asks for a look is told all the same.
    let is_calm = cycles.max(misses).max(doubles) <= MANY;
    if is_calm && cannot_tell(summary, NoJudgement::RippleUnseen) {
        let past = past.map_or(String::new(), |past| format!("; {past}"));
        let why =
            format!("{}; {efforts} of {all} count as efforts{past}", NoJudgement::RippleUnseen);
        return Answer::unknown(QUESTION, why);
    }
    let (standing, word) = match () {
        () if cycles > MANY => (Standing::Look, "the machine sets itself off"),
        () if misses > MANY => (Standing::Look, "efforts are missed"),
        () if clock.is_some() => (Standing::Look, "as regular as a clock"),
        () if doubles > MANY => (Standing::Look, "two inflations on one effort"),
        () if cycles > SOME => (Standing::Watch, "some set off by itself"),
        () if misses > SOME => (Standing::Watch, "some efforts missed"),
        () if doubles > SOME => (Standing::Watch, "some two on one effort"),
        () if past.is_some() => (Standing::Watch, "none now; earlier yes"),
        () => (Standing::NoSign, "no self-cycling seen"),
    };
    let (part, whole, what) = if let Some((alike, pairs)) = clock {
        (alike, pairs, "intervals alike")
    } else if doubles > cycles.max(misses) {
        (doubled, all, "the second on one effort")
    } else if misses > cycles {
        (missed, efforts + missed, "efforts missed")
    } else {
        (cycled, all, "self-cycled")
    };
    let number =
        format!("{part} of {whole} {what} in 3 min ({} %)", interval(part as u32, whole as u32));
    let regular = clock.map_or(
        "",
        |_| "an infant seldom breathes so regularly: ripple or water may set them off; ",
    );
    let counted = if clock.is_some() { "counted as the infant's" } else { "on an effort" };
    let missed = many(missed, "effort", "efforts");
    let mut why =
        format!("{regular}last 3 min: {efforts} {counted}, {missed} missed in expiration");
    if let Some(past) = past {
        why += &format!("; {past}");
    } else if let Some(seen) = CountAccuracy::of_cause(Cause::SelfRipple).filter(|_| cycled == 0) {
        let found = percent(seen.sensitivity.get().to_num());
        why += &format!(
            "; in simulations {found} of those set off by ripple or water are recognised, the rest are not"
        );
    }
    Answer::new(QUESTION, standing, word, number, why)
}

fn clock(summary: &Summary) -> Option<(usize, usize)> {
    let inflations = late::rows(summary).filter(|row| row.kind == Kind::Inflation);
    clockwork(inflations).filter(|_| cannot_tell(summary, NoJudgement::Clockwork))
}

/// Whether that is what the threshold that is set could not be judged for.
fn cannot_tell(summary: &Summary, why: NoJudgement) -> bool {
    let answer = ThresholdAnswer::CannotTell(why);
    summary.judged.last().is_some_and(|(_, judged, _)| judged.answer == answer)
}

/// How many intervals between inflations by an effort of late were nearly the same as the one before, of how many,
/// where those are at least half: a third are by chance.
fn clockwork(late: impl Iterator<Item = Row>) -> Option<(usize, usize)> {
    // From the latest to the earliest.
    let rows: Vec<Row> = late.collect();
    let by_effort = |row: &Row| row.cause == Some(Cause::Effort);
    let intervals: Vec<Option<f64>> = rows
        .windows(2)
        .map(|pair| {
            (by_effort(&pair[0]) && by_effort(&pair[1])).then(|| pair[0].onset_s - pair[1].onset_s)
        })
        .collect();
    let pairs = intervals.windows(2).filter_map(|pair| Some((pair[0]?, pair[1]?)));
    let is_alike: Vec<bool> = pairs.map(|(a, b)| 24.0 * (a - b).abs() < a).collect();
    let alike = is_alike.iter().filter(|alike| **alike).count();
    (is_alike.len() >= 64 && 2 * alike >= is_alike.len()).then_some((alike, is_alike.len()))
}

/// The stretches of the past in which the machine set itself off.
fn past(summary: &Summary) -> Option<String> {
    let is_cycled = |row: &Row| row.self_cycled;
    let told: Vec<_> = stretches(summary.trusted(), is_cycled, 60.0)
        .into_iter()
        .filter(|(.., n)| *n >= STRETCH)
        .map(|(from, to, n)| format!("{n} from {} to {}", summary.clock(from), summary.clock(to)))
        .collect();
    (!told.is_empty()).then(|| format!("self-cycled: {}", told.join(", ")))
}
