//! How much gas escapes beside the tube, and can a displayed volume be believed?

use super::late;
use super::{Answer, Question, Standing};
use crate::figures::Summary;
use crate::report::{belief, doubtful_from};
use crate::row::Row;
use crate::spread::quantile;
use crate::text::{decimals, percent};
use std::collections::VecDeque;
use tidevane::leak::{LeakConsistency, VolumeCredibility};

const QUESTION: Question = Question::Leak;
/// So much more out than in is no noise: a sensor off its zero or gain, or the wrong gas. Chosen here, no
/// source.
const OUT: f64 = 0.05;
/// A leak that jumps by so much is told, from the median of so many breaths to that of as many after them: chosen here, no
/// source.
const JUMP: f64 = 0.15;
/// Where so much escapes the tube may be out, or the circuit open (common practice, no source; the share chosen here).
const NEARLY_ALL: f64 = 0.8;
/// So many breaths in a row make a change that stays: chosen here, no source.
const STAYS: usize = 20;

pub(super) fn answer(summary: &Summary) -> Answer {
    let Some((seen, credibility)) = late::leak(summary) else {
        return Answer::unknown(QUESTION, "no breath of the last 3 min can be trusted");
    };
    let past = doubtful_from(summary);
    let off = decimals(surplus(summary), 1);
    let out =
        format!("more comes out than goes in: zero of flow off by {off} mL/s or more, or gain");
    let (standing, word) = match credibility {
        _ if seen.median < -OUT => (Standing::Look, &*out),
        _ if seen.median > NEARLY_ALL => (Standing::Look, "check tube and connections"),
        VolumeCredibility::TargetingHopeless => (Standing::Look, "volume targeting may fail"),
        VolumeCredibility::Unreliable => (Standing::Look, "displayed volume unreliable"),
        VolumeCredibility::Usable if past.is_some() => (Standing::Watch, "usable now; not always"),
        VolumeCredibility::Usable => (Standing::NoSign, "displayed volume usable"),
    };
    let fits = match summary.leak_fit {
        LeakConsistency::Unknown => "how it grows with pressure is not known; ".to_owned(),
        fit => format!("{fit}; "),
    };
    let why = past.map_or_else(
        || format!("{fits}never above 40 %, where a displayed tidal volume stops being usable"),
        |when| format!("above 40 % {when}: displayed volumes of that time are not to be believed"),
    );
    let why = if seen.median > NEARLY_ALL {
        format!("so large a leak may be a tube that is out, or a circuit that stands open; {why}")
    } else {
        why
    };
    let why = if seen.median < -OUT {
        format!(
            "a zero of flow that stands off by {off} mL/s (more where gas leaks too), an unequal gain or another gas would \
             do that, and hides what leaks; {why}"
        )
    } else {
        why
    };
    Answer::new(QUESTION, standing, word, seen.percent(), why)
}

/// What goes in less what comes out, in mL for each second of the last minutes.
fn surplus(summary: &Summary) -> f64 {
    let sum = |of: fn(&Row) -> f64| late::rows(summary).map(|row| of(&row)).sum::<f64>();
    sum(|row| row.inspired_ml - row.expired_ml) / sum(|row| row.insp_s + row.exp_s).max(1e-9)
}

/// The greatest jump of the leak that stayed: when, in seconds, and in words.
pub(super) fn greatest(summary: &Summary) -> Option<(f64, String)> {
    let mut near: VecDeque<(f64, f64)> = VecDeque::new();
    let mut most: Option<(f64, f64, f64)> = None;
    for (at, share) in summary.trusted().filter_map(|row| Some((row.onset_s, row.leak_window?))) {
        near.push_back((at, share));
        if near.len() < 2 * STAYS {
            continue;
        }
        let median =
            |from: usize| quantile(near.iter().skip(from).take(STAYS).map(|(_, s)| *s), 0.5);
        if let (Some(before), Some(after), Some((at, _))) =
            (median(0), median(STAYS), near.get(STAYS))
            && most.is_none_or(|(_, a, b)| (after - before).abs() > (b - a).abs())
        {
            most = Some((*at, before, after));
        }
        near.pop_front();
    }
    most.filter(|(_, before, after)| (after - before).abs() >= JUMP).map(|(at, before, after)| {
        (at, format!("leak {} to {}, the greatest jump", percent(before), percent(after)))
    })
}

/// When a displayed volume stopped being usable for the leak, or came to be so again, each with the leak before and then.
pub(super) fn changes(summary: &Summary) -> Vec<(f64, String)> {
    let (mut settled, mut changes) = (None, Vec::new());
    // The breaths in a row that differ: since when, what was before them, and how many.
    let mut run: Option<(f64, f64, usize)> = None;
    let mut last = 0.0;
    for row in summary.trusted() {
        let Some(share) = row.leak_window else { continue };
        let is_usable = belief(share) == VolumeCredibility::Usable;
        if *settled.get_or_insert(is_usable) == is_usable {
            run = None;
        } else {
            let (since, before, n) = run.unwrap_or((row.onset_s, last, 0));
            run = Some((since, before, n + 1));
            if n + 1 == STAYS {
                changes.push((since, format!("leak {} to {}", percent(before), percent(share))));
                (settled, run) = (Some(is_usable), None);
            }
        }
        last = share;
    }
    changes
}
