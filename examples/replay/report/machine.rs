//! What was asked of the machine: its trigger, its inflations, its support.

use super::section;
use crate::figures::{Summary, quantile};
use crate::text::decimals;
use std::io::{self, Write};
use tidevane::breath::Kind;
use tidevane::monitor::Settings;
use tidevane::quantity::{Share, Span};
use tidevane::trigger::{Advice, Expected, NoThreshold, Verdict};

pub(super) fn threshold(
    out: &mut impl Write,
    summary: &Summary,
    settings: &Settings,
) -> io::Result<()> {
    section(out, "Is the trigger threshold above leak and noise?")?;
    if settings.machine().threshold.is_none() {
        return writeln!(out, "Not known: no threshold was given (--threshold-lpm).");
    }
    let count = |verdict| summary.rows.iter().filter(|r| r.verdict == Some(verdict)).count();
    let (clear, noise, below) =
        (count(Verdict::Clear), count(Verdict::InNoise), count(Verdict::BelowLeak));
    let unknown = count(Verdict::Unknown) + count(Verdict::AboveLeak);
    match summary.trigger {
        Some(check) => writeln!(out, "At the end: {check}.")?,
        None => writeln!(out, "Not known: no breath was closed.")?,
    }
    writeln!(
        out,
        "Over the recording, breath by breath: clear at {clear}, within noise or ripple at {noise}, \
         below the leak at {below}, not known at {unknown}."
    )?;
    if below > 0 {
        writeln!(
            out,
            "While the threshold lies below the leak the machine can trigger itself without any \
             effort of the infant."
        )?;
    }
    advice(out, summary)
}

/// The recommended threshold, and what each step round it would mean.
fn advice(out: &mut impl Write, summary: &Summary) -> io::Result<()> {
    let Some(advice) = summary.advice else { return Ok(()) };
    writeln!(out, "A threshold to consider: {advice}.")?;
    if advice == Advice::None(NoThreshold::TooFewBreaths) {
        return Ok(());
    }
    let share = |share: Share| share.get().to_num::<f64>() * 100.0;
    let some = |s: Option<Share>| s.map_or("not known".into(), |s| decimals(share(s), 0));
    writeln!(out, "{:>12}{:>16}{:>26}", "L/min", "self-cycling, %", "efforts missed, %")?;
    let telling = |e: &&Expected| {
        e.self_cycling > Share::ZERO || e.missed_at_most.is_none_or(|s| s < Share::ONE)
    };
    for e in summary.steps.iter().filter(telling) {
        let missed = match (some(e.missed_at_least), some(e.missed_at_most)) {
            (least, most) if least == most => least,
            (least, most) => format!("{least} to {most}"),
        };
        let lpm = decimals(e.threshold.to_l_per_min().to_num(), 2);
        let cycling = decimals(share(e.self_cycling), 0);
        writeln!(out, "{lpm:>12}{cycling:>16}{missed:>26}")?;
    }
    writeln!(
        out,
        "Shares of the breaths of this recording. The smaller figure counts efforts whose size \
         showed, the larger also those that an inflation hid."
    )
}

pub(super) fn triggers(
    out: &mut impl Write,
    summary: &Summary,
    settings: &Settings,
) -> io::Result<()> {
    section(out, "Which inflations did the infant ask for?")?;
    let inflations: Vec<_> = summary.of_kind(Kind::Inflation).collect();
    if inflations.is_empty() {
        return writeln!(out, "No inflation was seen.");
    }
    if settings.machine().threshold.is_none() {
        return writeln!(out, "Not known: no threshold was given (--threshold-lpm).");
    }
    let s = &summary.synchrony;
    writeln!(
        out,
        "Of {} inflations: {} started by the infant, {} by the timer, {} by the machine itself on \
         leak, {} by itself on ripple or noise; {} cannot be told.",
        s.inflations(),
        s.effort,
        s.timed,
        s.self_leak,
        s.self_ripple,
        s.unknown
    )?;
    if let Some((at, initiation)) = &summary.self_cycled {
        writeln!(out, "The first self-cycled one, at {} s: {initiation}", decimals(*at, 1))?;
    }
    writeln!(
        out,
        "{} efforts got no inflation and moved too little gas to be a breath; {} inflations were \
         the second on one effort.",
        s.missed, s.double
    )?;
    if let (Some(mean), Some((shortest, longest))) = (s.delay.mean(), s.delay.range()) {
        let ms = |span: Span| span.to_us() / 1_000;
        writeln!(
            out,
            "Trigger delay: mean {} ms ({} to {}), over an eighth of the inspiratory time in {} of \
             {} (bench criterion of Vignaux 2014, Respir Care).",
            ms(mean),
            ms(shortest),
            ms(longest),
            s.delay.late(),
            s.delay.count()
        )?;
    }
    if let Some(index) = s.index() {
        writeln!(
            out,
            "Asynchrony index {} % (self-cycled, double and missed, per inflation delivered or \
             effort missed; above 10 % is called severe in adults, Anesthesiology 2021;134:629).",
            decimals(index.get().to_num::<f64>() * 100.0, 1)
        )?;
    }
    writeln!(
        out,
        "Ripple as large as an effort, and efforts that coincide with the timer, cannot be told \
         apart from flow and pressure alone."
    )
}

pub(super) fn support(out: &mut impl Write, summary: &Summary) -> io::Result<()> {
    section(out, "What does a support of 80 % mean in pressure?")?;
    let inflations = || summary.of_kind(Kind::Inflation);
    let (Some(peak), Some(base)) = (
        quantile(inflations().map(|r| r.peak), 0.5),
        quantile(inflations().map(|r| r.baseline), 0.5),
    ) else {
        return writeln!(out, "Not known: no trusted inflation to take it from.");
    };
    writeln!(
        out,
        "Two conventions are in use. From the median peak of {} over {} cmH2O:\n  \
         80 % of the peak ends at {} cmH2O;\n  80 % of the rise above baseline ends at {} \
         cmH2O.\nWhich one a machine means stands in its instructions.",
        decimals(peak, 1),
        decimals(base, 1),
        decimals(0.8 * peak, 1),
        decimals(base + 0.8 * (peak - base), 1)
    )
}
