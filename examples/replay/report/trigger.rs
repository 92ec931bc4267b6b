//! What was asked of the machine: its trigger, and its inflations.

use crate::doc::Doc;
use crate::figures::{Summary, stretches};
use crate::text::{clock, decimals};
use tidevane::breath::Kind;
use tidevane::quantity::{Share, Span};
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

/// The recommended threshold, and what each step round it would mean.
fn advice(doc: &mut Doc, summary: &Summary) {
    let Some(advice) = summary.advice else { return };
    doc.say(format!("A threshold to consider: {advice}."));
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
         showed, the larger also those that an inflation hid.",
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
        "{} efforts got no inflation and moved too little gas to be a breath; {} inflations were \
         the second on one effort.",
        s.missed, s.double
    ));
    if let (Some(mean), Some((shortest, longest))) = (s.delay.mean(), s.delay.range()) {
        let ms = |span: Span| span.to_us() / 1_000;
        points.push(format!(
            "Trigger delay: mean {} ms ({} to {}), over an eighth of the inspiratory time in {} of \
             {} (bench criterion of Vignaux 2014, Respir Care).",
            ms(mean),
            ms(shortest),
            ms(longest),
            s.delay.late(),
            s.delay.count()
        ));
    }
    if let Some(index) = s.index() {
        points.push(format!(
            "Asynchrony index {} % (self-cycled, double and missed, per inflation delivered or \
             effort missed; above 10 % is called severe in adults, Anesthesiology 2021;134:629).",
            decimals(index.get().to_num::<f64>() * 100.0, 1)
        ));
    }
    doc.points(&points);
    doc.say(
        "Ripple as large as an effort, and efforts that coincide with the timer, cannot be told \
         apart from flow and pressure alone.",
    );
}
