//! What was asked of the machine: its trigger, and its inflations.

use crate::doc::Doc;
use crate::figures::Summary;
use crate::row::stretches;
use crate::text::decimals;
use tidevane::breath::Kind;
use tidevane::quantity::Share;
use tidevane::trigger::{
    Cause, CountAccuracy, NoThreshold, ThresholdAdvice, ThresholdOutlook, ThresholdVerdict,
    TriggerKind,
};

pub(super) fn threshold(doc: &mut Doc, summary: &Summary) {
    doc.section("threshold", "Is the trigger threshold above leak and noise?");
    let machine = summary.settings.machine();
    if machine.trigger != TriggerKind::Flow {
        return doc.say(format!(
            "The machine's trigger does not watch the flow (trigger: {}): there is no threshold to hold \
             against leak and ripple. Who set the inflations off stands in the next section.",
            machine.trigger
        ));
    }
    if machine.threshold.is_none() {
        return doc.say("Not known: no threshold was given (--threshold-lpm).");
    }
    let Some(check) = summary.trigger else {
        return doc.say("Not known: no breath was closed.");
    };
    let count = |verdict| summary.rows.iter().filter(|r| r.verdict == Some(verdict)).count();
    let unknown = count(ThresholdVerdict::Unknown) + count(ThresholdVerdict::AboveLeak);
    doc.say(format!(
        "At the end: {check}. Over the recording, breath by breath: clear at {}, within noise or \
         ripple at {}, below the leak at {}, not known at {unknown}.",
        count(ThresholdVerdict::Clear),
        count(ThresholdVerdict::InNoise),
        count(ThresholdVerdict::BelowLeak),
    ));
    let below = below_leak(summary);
    if !below.is_empty() {
        doc.say(format!(
            "It lay below the leak {}. While it does, the machine can trigger itself without any \
             effort of the infant.",
            below.join(", ")
        ));
    }
    if let Some(largest) = summary.below_threshold() {
        doc.say(format!(
            "It lies above every effort seen: no trusted breath that the infant began had a flow into the lung above {} \
             L/min. Unless leak adds to it the machine would answer none; where it did answer, leak helped, or another \
             threshold is set than was told.",
            decimals(largest, 2)
        ));
    }
    judged(doc, summary);
    ranges(doc, summary);
}

/// When the threshold lay below the leak.
pub(super) fn below_leak(summary: &Summary) -> Vec<String> {
    stretches(summary.trusted(), |row| row.verdict == Some(ThresholdVerdict::BelowLeak), 60.0)
        .into_iter()
        .map(|(from, to, n)| {
            format!("from {} to {} ({n} breaths)", summary.clock(from), summary.clock(to))
        })
        .collect()
}

/// What is made of each threshold over the time that it was set.
fn judged(doc: &mut Doc, summary: &Summary) {
    let mut from = 0.0;
    let last = summary.judged.len().saturating_sub(1);
    let mut points = Vec::new();
    for (i, (to, judged, threshold)) in summary.judged.iter().enumerate() {
        let when = if i == last {
            "until now".to_owned()
        } else {
            format!("until {}", summary.clock(*to))
        };
        points.push(format!(
            "{:.2} L/min, set from {} {when}: {judged}.",
            threshold.to_l_per_min(),
            summary.clock(from)
        ));
        from = *to;
    }
    doc.points(&points);
}

/// What a range of thresholds would mean by what was heard.
#[derive(PartialEq)]
enum Meaning {
    SelfCycles,
    Usable,
    MayMiss,
    Misses,
}

impl Meaning {
    fn of(e: &ThresholdOutlook) -> Self {
        let (few, tenth) = (Share::from_percent(2), Share::from_percent(10));
        if e.self_cycling > few {
            Self::SelfCycles
        } else if e.missed_at_least.is_some_and(|missed| missed > tenth) {
            Self::Misses
        } else if e.missed_at_most.is_none_or(|missed| missed > tenth) {
            Self::MayMiss
        } else {
            Self::Usable
        }
    }

    fn name(&self) -> &'static str {
        match self {
            Self::SelfCycles => "sets itself off",
            Self::Usable => "usable",
            Self::MayMiss => "may miss efforts",
            Self::Misses => "misses efforts",
        }
    }
}

/// The thresholds by ranges, and the one that is advised.
fn ranges(doc: &mut Doc, summary: &Summary) {
    let Some(advice) = summary.advice else { return };
    doc.say(format!("By all breaths of the recording, every leak in it included: {advice}."));
    if advice == ThresholdAdvice::None(NoThreshold::TooFewBreaths) {
        return;
    }
    let alike = summary.expected.chunk_by(|a, b| Meaning::of(a) == Meaning::of(b));
    let rows: Vec<_> = alike.filter_map(row).collect();
    doc.prose_table(
        "What each threshold would have meant",
        &["threshold, L/min", "self-cycling, %", "efforts missed, %", "by this"],
        rows,
        &[3],
    );
    doc.method(
        "Shares of the breaths of this recording: of those whose leak and noise reached the threshold, \
         and of efforts, all that were missed in expiration among them. The smaller figure of a \
         range of misses counts what is too small for certain, the larger also efforts whose size an \
         inflation hid. Efforts that fell into a running inflation are counted below.",
    );
}

/// A range of thresholds that mean the same.
fn row(range: &[ThresholdOutlook]) -> Option<Vec<String>> {
    let (first, last) = (range.first()?, range.last()?);
    let lpm = |e: &ThresholdOutlook| decimals(e.threshold.to_l_per_min().to_num(), 2);
    let missed = first.missed_at_least.zip(last.missed_at_most);
    Some(vec![
        span(lpm(first), lpm(last)),
        span(whole_percent(last.self_cycling), whole_percent(first.self_cycling)),
        missed.map_or("not known".into(), |(a, b)| span(whole_percent(a), whole_percent(b))),
        Meaning::of(first).name().into(),
    ])
}

fn whole_percent(share: Share) -> String {
    decimals(share.get().to_num::<f64>() * 100.0, 0)
}

fn span(low: String, high: String) -> String {
    if low == high { low } else { format!("{low} to {high}") }
}

pub(super) fn causes(doc: &mut Doc, summary: &Summary) {
    doc.section("asked", "Which inflations did the infant ask for?");
    if summary.of_kind(Kind::Inflation).next().is_none() {
        return doc.say("No inflation was seen.");
    }
    let s = &summary.synchrony;
    let by = if summary.settings.machine().threshold.is_none() {
        ", without a threshold by the muscle pressure and the timer alone"
    } else {
        ""
    };
    doc.say(format!("Of {} inflations{by}, and of efforts:", s.inflations()));
    counts(doc, summary);
    let mut points = Vec::new();
    for (from, to, n) in stretches(summary.trusted(), |row| row.self_cycled, 60.0) {
        if n >= 10 {
            points.push(format!(
                "Self-cycling from {} to {}: {n} inflations.",
                summary.clock(from),
                summary.clock(to)
            ));
        }
    }
    if let Some((at, initiation)) = &summary.self_cycled {
        points.push(format!("The first self-cycled one, at {}: {initiation}", summary.clock(*at)));
    }
    points.push(format!("{} inflations were the second on one effort.", s.double));
    if s.reverse > 0 {
        points.push(format!(
            "{} efforts came 0.1 to 0.35 s after the rise of timed inflations, as after those before: \
             brought about by them (reverse triggering), or of an infant who breathes at nearly the set \
             rate. None of them counts as missed.",
            s.reverse
        ));
    }
    if let Some(mean) = s.delay.mean() {
        points.push(format!(
            "Trigger delay: mean {} ms, over an eighth of the inspiratory time in {} of {} (bench \
             criterion of Vignaux 2014, Respir Care, year from memory); samples are {} ms apart, so \
             single delays are no finer.",
            mean.to_us() / 1_000,
            s.delay.late(),
            s.delay.count(),
            decimals(1e3 * summary.seconds / summary.samples.max(1) as f64, 0)
        ));
    }
    let told = s.inflations().saturating_sub(s.unknown);
    if summary.settings.machine().threshold.is_none() {
        points.push(
            "The asynchrony index is not known: without a threshold no self-cycling is told."
                .into(),
        );
    } else if told.saturating_mul(4) < s.inflations().saturating_mul(3) {
        points.push(format!(
            "The asynchrony index is not known: the cause of {} of {} inflations is not.",
            s.unknown,
            s.inflations()
        ));
    } else if let Some(index) = s.index() {
        points.push(format!(
            "Asynchrony index {} % over the whole recording (self-cycled, double, and efforts wasted in \
             expiration, per inflation delivered or effort wasted; above 10 % is called severe in \
             adults, Anesthesiology 2021;134:629). Efforts during an inflation are none of its events.",
            decimals(index.get().to_num::<f64>() * 100.0, 1)
        ));
    }
    doc.points(&points);
    doc.say(
        "Ripple as large as an effort, and efforts that coincide with the timer, cannot be told \
         apart from flow and pressure alone.",
    );
}

/// What was counted, and how far such counts can be relied on.
fn counts(doc: &mut Doc, summary: &Summary) {
    let s = &summary.synchrony;
    let percent = |share: Share| decimals(share.get().to_num::<f64>() * 100.0, 0);
    let row = |name: &str, count: u32, accuracy: Option<CountAccuracy>| {
        let of = |share: fn(CountAccuracy) -> Share| {
            accuracy.map_or("-".into(), |accuracy| percent(share(accuracy)))
        };
        vec![name.into(), count.to_string(), of(|a| a.sensitivity), of(|a| a.specificity)]
    };
    // What was measured was measured with a threshold; without one no self-cycling is told.
    let by_flow = summary.settings.machine().threshold.is_some();
    let cause = |cause| CountAccuracy::of_cause(cause).filter(|_| by_flow);
    let mut rows = vec![
        row("inflations started by the infant", s.effort, cause(Cause::Effort)),
        row("by the timer", s.timed, cause(Cause::Timed)),
    ];
    if by_flow {
        rows.push(row("by the machine itself, on leak", s.self_leak, cause(Cause::SelfLeak)));
        rows.push(row("by itself, on ripple or noise", s.self_ripple, cause(Cause::SelfRipple)));
    }
    let missed = [CountAccuracy::MISSED_IN_EXPIRATION, CountAccuracy::MISSED_IN_INFLATION]
        .map(|accuracy| Some(accuracy).filter(|_| by_flow));
    rows.push(row("not told", s.unknown, None));
    rows.push(row("efforts missed in expiration", s.missed, missed[0]));
    rows.push(row("efforts missed during an inflation", s.overlapped, missed[1]));
    doc.table(
        "What started inflations, and what efforts came to",
        &["what", "counted", "sensitivity, %", "specificity, %"],
        rows,
    );
    if !by_flow {
        return doc.say(
            "Without a threshold of flow none of these counts was measured against simulations, and no \
             inflation is called the machine's own: one that neither infant nor timer explains is not told.",
        );
    }
    doc.method(
        "Sensitivity and specificity as counted in simulated recordings: what a count misses, and what it \
         takes for another; each the lower of two simulated worlds. Where flow comes 10 ms or more after \
         pressure, and nothing tells that, they are worse: efforts are called timed. A patient is no simulator.",
    );
}
