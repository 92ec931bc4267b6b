//! What stands on top of a report: what to look at first, the answers, now, what changed, what to watch, and what is
//! not known.

use super::late::{self, Middle};
use super::{Answer, Standing};
use super::{drift, leak};
use crate::config::Setup;
use crate::figures::Summary;
use crate::report::reasons;
use crate::steps::Step;
use crate::text::{KINDS, capital, decimals, kind_name, length, many, percent, times};
use tidevane::leak::VolumeCredibility;
use tidevane::monitor::MachineSettings;
use tidevane::signal::Flags;
use tidevane::trend::Tally;

/// So many questions without an answer leave nothing to be said of the others first.
const MANY: usize = 4;
/// More changes than these stand in the sections alone.
const CHANGES: usize = 3;

/// What makes most breaths be left out, in words.
const CAUSES: [(Flags, &str); 5] = [
    (
        Flags::ZERO_DRIFT,
        "The zero of the flow sensor stands off: set it to zero again, or say flow_offset_ml_per_s",
    ),
    (Flags::NOISY, "Water in the line or noise in flow does that"),
    (Flags::CLIPPED, "Flow is cut off at an end of its range"),
    (Flags::STUCK, "A sensor stood still"),
    (Flags::GAP, "Samples are missing"),
];

/// The top of the report.
pub(crate) struct Top {
    /// What makes everything below doubtful.
    pub(crate) alerts: Vec<String>,
    pub(crate) lead: String,
    pub(crate) answers: Vec<Answer>,
    pub(crate) now: Vec<String>,
    pub(crate) changed: Vec<String>,
    pub(crate) watch: Vec<String>,
    pub(crate) unknown: Vec<String>,
}

impl Top {
    pub(crate) fn new(summary: &Summary, setup: &Setup) -> Self {
        let (alerts, answers) = (alerts(summary), super::all(summary, setup));
        let moved = drift::told(summary);
        Self {
            lead: lead(&answers, !alerts.is_empty(), moved.first(), summary),
            alerts,
            now: now(summary),
            changed: changed(summary, moved),
            watch: watch(summary),
            unknown: unknown(summary, setup, &answers),
            answers,
        }
    }
}

/// Nothing was heard at the end, or what was heard cannot be.
pub(crate) fn alerts(summary: &Summary) -> Vec<String> {
    let mut alerts = Vec::new();
    if summary.blind_s >= late::BLIND {
        alerts.push(format!(
            "NO USABLE INPUT at the end, for {}: all figures are of the time before, and whether \
             the infant breathes cannot be told. Look at the infant.",
            length(summary.blind_s)
        ));
    }
    if let Some(quiet) = late::no_breath(summary) {
        alerts.push(format!(
            "NO BREATH for {} at the end: neither an inflation nor an own breath was seen. Look at the infant.",
            length(quiet)
        ));
    }
    if let Some((all, flagged)) = late::left_out(summary) {
        let most = CAUSES
            .into_iter()
            .max_by_key(|(flag, _)| flagged.iter().filter(|row| row.flags.has(*flag)).count());
        let most = most.filter(|(flag, _)| {
            2 * flagged.iter().filter(|row| row.flags.has(*flag)).count() > flagged.len()
        });
        alerts.push(format!(
            "MOST BREATHS ARE LEFT OUT at the end, {} of {all}: {}.{}",
            flagged.len(),
            reasons(flagged.iter().copied()),
            most.map_or(String::new(), |(_, cause)| format!(" {cause}."))
        ));
    }
    let told = super::told::disagreements(summary);
    if !told.is_empty() {
        alerts.push(format!(
            "TOLD AND MEASURED DISAGREE: {}. One of them is wrong, and with it what rests on it.",
            told.join("; ")
        ));
    }
    alerts.extend(summary.implausible.iter().map(|(why, (breaths, first))| {
        format!(
            "NUMBERS THAT CANNOT BE, in {breaths} of {} breaths, first at {}: {why}. They are left out of \
             all figures below.",
            summary.rows.len(),
            summary.clock(*first)
        )
    }));
    alerts.extend(summary.doubts.iter().map(|doubt| {
        let end = if doubt.full.ends_with('?') { "" } else { "." };
        format!(
            "RECORDING IN DOUBT: {}{end} What rests on it below is not to be believed.",
            doubt.full
        )
    }));
    alerts
}

/// `moved` without a word: a pressure, or what it brings.
fn lead(answers: &[Answer], is_alarmed: bool, moved: Option<&String>, summary: &Summary) -> String {
    let blind = summary.blind.alert().map_or(String::new(), |alert| alert + " ");
    if is_alarmed {
        return format!(
            "{blind}Look at the infant, the sensor and the settings first; the answers are of what could be believed."
        );
    }
    let rings = summary.rings.at_end().join(", ");
    let rings = if rings.is_empty() { rings } else { format!("Ringing at the end: {rings}. ") };
    let before = blind + &rings;
    let with = |standing| answers.iter().filter(move |a| a.standing == standing);
    let count = |standing| with(standing).count();
    let (watch, unknown) = (count(Standing::Watch), count(Standing::Unknown));
    let rest = format!(
        "{watch} to watch, {unknown} without an answer. What shows no sign may be wrong all the same."
    );
    let answer = |a: &Answer| format!("{} {}", a.question.short(), capital(&a.word));
    let mut looks = with(Standing::Look);
    match looks.next() {
        Some(first) => {
            let number = Some(&first.number).filter(|number| !number.is_empty());
            let number = number.map_or(String::new(), |number| format!(", {number}"));
            let then: Vec<_> = looks.map(answer).collect();
            let then = if then.is_empty() {
                String::new()
            } else {
                format!(" Then: {}.", then.join("; "))
            };
            format!("{before}Look first: {}{number}.{then} {}", answer(first), capital(&rest))
        }
        _ if unknown >= MANY => format!(
            "{before}{unknown} of {} questions have no answer; {watch} to watch. What is not known is not well.",
            answers.len()
        ),
        _ => match moved {
            Some(moved) => {
                format!("{before}Look first at what changed: {moved}. {}", capital(&rest))
            }
            None if before.is_empty() => format!("Nothing measured asks for a look first: {rest}"),
            None => format!("{before}{}", capital(&rest)),
        },
    }
}

/// The last minutes.
fn now(summary: &Summary) -> Vec<String> {
    let kg = summary.kg();
    let (each, unit) = kg.map_or((1.0, "mL"), |kg| (kg, "mL/kg"));
    let mut lines = Vec::new();
    let rate = Middle::of(late::rows(summary).filter_map(|row| row.rate));
    let minute = Middle::of(late::rows(summary).filter_map(|row| row.minute_ml));
    if let (Some(rate), Some(minute)) = (rate, minute) {
        lines.push(format!(
            "{}, {}",
            rate.told("breaths a minute", 1.0, 0),
            minute.told(&format!("{unit} a minute at the sensor"), each, 0)
        ));
    } else {
        lines.push("rate not known, minute volume not known".into());
    }
    let moved: Vec<_> = KINDS
        .into_iter()
        .filter_map(|kind| {
            let got = late::lung(summary, kind)?;
            Some(format!("{} {}", kind_name(kind), got.told(unit, each, 1)))
        })
        .collect();
    match late::leak(summary) {
        Some((leak, VolumeCredibility::TargetingHopeless)) => {
            lines.push(format!("in the lung: not known, {} leaks", leak.percent()));
        }
        Some((_, VolumeCredibility::Unreliable)) if !moved.is_empty() => {
            lines.push(format!("in the lung, by a model of the leak: {}", moved.join(", ")));
        }
        _ if !moved.is_empty() => lines.push(format!("in the lung: {}", moved.join(", "))),
        _ => {}
    }
    let of =
        |i: usize| Middle::of(late::rows(summary).filter_map(move |row| Some(row.mechanics?[i])));
    if let (Some(compliance), Some(resistance)) = (of(0), of(1)) {
        lines.push(format!(
            "compliance {}, resistance {}",
            compliance.told("mL/cmH2O", 1.0, 2),
            resistance.told("cmH2O·s/L", 1.0, 0)
        ));
    }
    if let Some((_, signs)) = summary.signs_at.last() {
        let told = |value: Option<String>| value.unwrap_or_else(|| "not told".into());
        lines.push(format!(
            "heart rate {}, saturation {}",
            told(signs.heart_rate.map(|rate| format!("{rate} /min"))),
            told(signs.saturation.map(|share| format!("{share} %")))
        ));
    }
    if let Some(step) = summary.steps.all.last() {
        let machine = summary.settings.machine();
        let set = [
            machine.set_rate.map(|rate| format!("rate {rate:.0}")),
            machine.peak.map(|peak| format!("peak {peak:.1}")),
            machine.support_peak.map(|peak| format!("support to {peak:.1}")),
            machine
                .threshold
                .map(|set| format!("threshold {:.2} L/min", set.flow().to_l_per_min())),
        ];
        let set: Vec<_> = set.into_iter().flatten().collect();
        if !set.is_empty() {
            lines.push(format!("set {} ago: {}", length(step.to_s - step.from_s), set.join(", ")));
        }
    }
    lines
}

/// What moved without a word; the latest steps, each with what it was like before and at its end, jumps of the lung, and when the leak came to matter.
fn changed(summary: &Summary, moved: Vec<String>) -> Vec<String> {
    let steps = &summary.steps.all;
    let pairs = steps.windows(2).rev().take(CHANGES);
    let mut seen: Vec<_> =
        pairs.map(|pair| (pair[1].from_s, change(summary, &pair[0], &pair[1]))).collect();
    let jumps = summary.jumps.iter().rev().take(CHANGES);
    seen.extend(jumps.map(|(at, jump)| (*at, format!("{}: {jump}", summary.clock(*at)))));
    let leaks = leak::changes(summary).into_iter().rev().take(CHANGES);
    seen.extend(leaks.map(|(at, leak)| (at, format!("{}: {leak}", summary.clock(at)))));
    seen.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut lines = moved;
    lines.extend(seen.into_iter().map(|(_, line)| line));
    if let Some((at, jump)) = leak::greatest(summary) {
        // Never behind what only came later.
        lines.insert(lines.len().min(1), format!("{}: {jump}", summary.clock(at)));
    }
    if let Some(more) = steps.len().checked_sub(CHANGES + 1).filter(|more| *more > 0) {
        lines.push(format!("{} of settings before these", many(more, "change", "changes")));
    }
    if lines.is_empty() {
        lines.push(
            if drift::is_lung_seen(summary) {
                "no change of rate, peak or support was given; none of the leak or the lung was seen"
            } else {
                "no change of rate, peak or support given, no leak jumped; too few breaths show the lung"
            }
            .into(),
        );
    }
    lines
}

fn change(summary: &Summary, before: &Step, step: &Step) -> String {
    let mut said =
        format!("{}: {}", summary.clock(step.from_s), settings(&before.machine, &step.machine));
    if let (Some(was), Some(is)) = (before.last, step.last) {
        let between = |value: &dyn Fn(&Tally) -> Option<f64>, places| {
            Some(format!("{} to {}", decimals(value(&was)?, places), decimals(value(&is)?, places)))
        };
        let (each, unit) = summary.kg().map_or((1.0, "mL/min"), |kg| (kg, "mL/kg/min"));
        let minute = |t: &Tally| Some(t.minute_volume()?.get().to_num::<f64>() / each);
        let rate = |t: &Tally| Some(t.rate()?.get().to_num::<f64>());
        if let Some(volumes) = between(&minute, 0) {
            said += &format!("; {unit} {volumes}");
        }
        if let Some(rates) = between(&rate, 0) {
            said += &format!("; rate {rates}");
        }
    }
    if let Some((at, _)) = step.asked_back() {
        said += &format!("; signs of overload from {}", summary.clock(at));
    }
    said
}

/// What was set anew.
fn settings(was: &MachineSettings, is: &MachineSettings) -> String {
    let number = |value: Option<f64>| value.map_or("none".into(), |v| decimals(v, 0));
    let pairs = [
        ("set rate", was.set_rate.map(|r| r.get().to_num()), is.set_rate.map(|r| r.get().to_num())),
        ("peak", was.peak.map(|p| p.get().to_num()), is.peak.map(|p| p.get().to_num())),
        (
            "support",
            was.support_peak.map(|p| p.get().to_num()),
            is.support_peak.map(|p| p.get().to_num()),
        ),
    ];
    let told = pairs.into_iter().filter(|(_, was, is)| was != is);
    told.map(|(name, was, is)| format!("{name} {} to {}", number(was), number(is)))
        .collect::<Vec<_>>()
        .join(", ")
}

/// What happened to the sensor and which alarms would have rung.
fn watch(summary: &Summary) -> Vec<String> {
    let mut lines = Vec::new();
    if !summary.rings.is_empty() {
        lines.push(format!("would have rung: {}", summary.rings.told()));
    }
    let sensor = [
        (summary.opened, "circuit open or suction"),
        (summary.clipped, "flow at one extreme"),
        (summary.stuck, "readings that stopped changing"),
        (summary.gaps, "gaps"),
        (summary.refused, "refused readings"),
        (summary.bad_lines, "unreadable lines"),
        (summary.repeated, "rows the same as the one before"),
    ];
    let blind = summary.blind.seconds();
    let blind = (blind > 0.0).then(|| format!("nothing usable for {} in all", length(blind)));
    let counts = sensor.iter().filter(|(n, _)| *n > 0);
    let counts = counts.map(|(n, what)| format!("{what} {}", times(*n)));
    let told: Vec<_> = blind.into_iter().chain(counts).collect();
    if !told.is_empty() {
        lines.push(format!("sensor: {}", told.join(", ")));
    }
    if summary.unmade > 0 {
        lines.push(format!(
            "{} told lie after the end and were not made",
            many(summary.unmade, "change", "changes")
        ));
    }
    let flagged = summary.rows.iter().filter(|row| !row.trusted).count();
    lines.push(format!(
        "{flagged} of {} breaths flagged and left out ({})",
        summary.rows.len(),
        percent(flagged as f64 / summary.rows.len().max(1) as f64)
    ));
    lines
}

/// What no answer could be given to, and which settings would help.
fn unknown(summary: &Summary, setup: &Setup, answers: &[Answer]) -> Vec<String> {
    let machine = summary.settings.machine();
    let settings = [
        (summary.settings.weight().is_none(), "weight (--weight-g)"),
        (machine.threshold.is_none(), "threshold (--threshold-lpm)"),
        (machine.set_rate.is_none(), "set rate (--set-rate)"),
        (machine.peak.is_none(), "peak (peak_cmH2O)"),
        (summary.signs_at.is_empty(), "heart rate and saturation"),
        (setup.bedside.tube.is_none(), "tube (tube_mm, tube_length_mm)"),
        (summary.settings.proposal().is_none(), "target volume (target_ml), if there is one"),
    ];
    let missing: Vec<_> = settings.iter().filter(|(is, _)| *is).map(|(_, name)| *name).collect();
    let mut lines = Vec::new();
    if !missing.is_empty() {
        lines.push(format!("not given: {}", missing.join(", ")));
    }
    let unanswered = answers
        .iter()
        .filter(|answer| answer.standing == Standing::Unknown)
        .map(|answer| format!("{} {}", answer.question.short(), answer.why));
    lines.extend(unanswered);
    lines.push("blood gas, weight gain and how the infant looks".into());
    lines
}
