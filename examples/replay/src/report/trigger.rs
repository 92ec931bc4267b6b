//! What was asked of the machine: its trigger, and its inflations.

use crate::doc::Doc;
use crate::figures::{Summary, stretches};
use crate::text::{clock, decimals};
use tidevane::breath::Kind;
use tidevane::quantity::{Flow, Share};
use tidevane::trigger::{Advice, Expected, NoThreshold, Verdict};

pub(super) fn threshold(doc: &mut Doc, summary: &Summary) {
    doc.section("Is the trigger threshold above leak and noise?");
    if summary.settings.machine().threshold.is_none() {
        return doc.say("Not known: no threshold was given (--threshold-lpm).");
    }
    let Some(check) = summary.trigger else {
        return doc.say("Not known: no breath was closed.");
    };
    let count = |verdict| summary.rows.iter().filter(|r| r.verdict == Some(verdict)).count();
    let unknown = count(Verdict::Unknown) + count(Verdict::AboveLeak);
    doc.say(format!(
        "At the end: {check}. Over the recording, breath by breath: clear at {}, within noise or \
         ripple at {}, below the leak at {}, not known at {unknown}.",
        count(Verdict::Clear),
        count(Verdict::InNoise),
        count(Verdict::BelowLeak),
    ));
    let below = below_leak(summary);
    if !below.is_empty() {
        doc.say(format!(
            "It lay below the leak {}. While it does, the machine can trigger itself without any \
             effort of the infant.",
            below.join(", ")
        ));
    }
    advice(doc, summary);
}

/// When the threshold lay below the leak.
pub(super) fn below_leak(summary: &Summary) -> Vec<String> {
    stretches(summary.trusted(), |row| row.verdict == Some(Verdict::BelowLeak), 60.0)
        .into_iter()
        .map(|(from, to, n)| format!("from {} to {} ({n} breaths)", clock(from), clock(to)))
        .collect()
}

/// Whether two thresholds are one setting: within 0.001 mL/s.
fn is_same(a: Flow, b: Flow) -> bool {
    a.saturating_sub(b).value.to_bits().unsigned_abs() < 66
}

/// The recommended threshold, and what each step round it would mean.
fn advice(doc: &mut Doc, summary: &Summary) {
    let Some(advice) = summary.advice else { return };
    let set = summary.trigger.map(|check| (check.threshold, check.verdict));
    doc.say(match (advice, set) {
        (Advice::Set(step), Some((set, _))) if is_same(step.threshold, set) => format!(
            "Over the whole recording: {advice}. That is what is set now; nothing here asks for a \
             change."
        ),
        (_, Some((_, Verdict::Clear))) => format!(
            "What is set now is clear of leak and noise; nothing here asks for a change. Over the \
             whole recording, every leak in it included: {advice}."
        ),
        _ => format!("Over the whole recording, every leak in it included: {advice}."),
    });
    if advice == Advice::None(NoThreshold::TooFewBreaths) {
        return;
    }
    let share = |share: Share| share.get().to_num::<f64>() * 100.0;
    let some = |s: Option<Share>| s.map_or("not known".into(), |s| decimals(share(s), 0));
    let telling = |e: &&Expected| {
        e.self_cycling > Share::ZERO || e.missed_at_most.is_none_or(|s| s < Share::ONE)
    };
    let rows: Vec<_> = summary
        .expected
        .iter()
        .filter(telling)
        .map(|e| {
            let missed = match (some(e.missed_at_least), some(e.missed_at_most)) {
                (least, most) if least == most => least,
                (least, most) => format!("{least} to {most}"),
            };
            let lpm = decimals(e.threshold.to_l_per_min().to_num(), 2);
            vec![lpm, decimals(share(e.self_cycling), 0), missed]
        })
        .collect();
    if rows.is_empty() {
        return;
    }
    doc.table(&["threshold, L/min", "self-cycling, %", "efforts missed, %"], &rows);
    doc.say(
        "Shares of the breaths of this recording. The smaller figure counts efforts whose size \
         showed, the larger also those that an inflation hid. Efforts that fell into a running \
         inflation are not counted.",
    );
}

pub(super) fn causes(doc: &mut Doc, summary: &Summary) {
    doc.section("Which inflations did the infant ask for?");
    if summary.of_kind(Kind::Inflation).next().is_none() {
        return doc.say("No inflation was seen.");
    }
    if summary.settings.machine().threshold.is_none() {
        return doc.say("Not known: no threshold was given (--threshold-lpm).");
    }
    let s = &summary.synchrony;
    doc.say(format!(
        "Of {} inflations: {} started by the infant, {} by the timer, {} by the machine itself on \
         leak, {} by itself on ripple or noise; {} cannot be told.",
        s.inflations(),
        s.effort,
        s.timed,
        s.self_leak,
        s.self_ripple,
        s.unknown
    ));
    let mut points = Vec::new();
    for (from, to, n) in stretches(summary.trusted(), |row| row.self_cycled, 60.0) {
        if n >= 10 {
            points.push(format!(
                "Self-cycling from {} to {}: {n} inflations.",
                clock(from),
                clock(to)
            ));
        }
    }
    if let Some((at, initiation)) = &summary.self_cycled {
        points.push(format!("The first self-cycled one, at {}: {initiation}", clock(*at)));
    }
    points.push(format!(
        "{} efforts set nothing off: {} came while an inflation ran already, {} in expiration. {} \
         inflations were the second on one effort.",
        s.missed,
        summary.overlapped,
        u64::from(s.missed).saturating_sub(summary.overlapped),
        s.double
    ));
    if let Some(mean) = s.delay.mean() {
        points.push(format!(
            "Trigger delay: mean {} ms, over an eighth of the inspiratory time in {} of {} (bench \
             criterion of Vignaux 2014, Respir Care); samples are {} ms apart, so single delays are \
             no finer.",
            mean.to_us() / 1_000,
            s.delay.late(),
            s.delay.count(),
            decimals(1e3 * summary.seconds / summary.samples.max(1) as f64, 0)
        ));
    }
    if let Some(index) = s.index() {
        points.push(format!(
            "Asynchrony index {} % over the whole recording (self-cycled, double, and efforts that \
             set nothing off, per inflation delivered or effort wasted; above 10 % is called severe \
             in adults, Anesthesiology 2021;134:629).",
            decimals(index.get().to_num::<f64>() * 100.0, 1)
        ));
    }
    doc.points(&points);
    doc.say(
        "Ripple as large as an effort, and efforts that coincide with the timer, cannot be told \
         apart from flow and pressure alone.",
    );
}
