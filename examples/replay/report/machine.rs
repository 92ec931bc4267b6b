//! What was asked of the machine: its trigger, its inflations, its support.

use super::section;
use crate::figures::{Summary, quantile};
use crate::text::decimals;
use std::io::{self, Write};
use tidevane::breath::Kind;
use tidevane::monitor::Settings;
use tidevane::trigger::Verdict;

pub(super) fn threshold(
    out: &mut impl Write,
    summary: &Summary,
    settings: &Settings,
) -> io::Result<()> {
    section(out, "Is the trigger threshold above leak and noise?")?;
    if settings.threshold().is_none() {
        return writeln!(out, "Not known: no threshold was given (--threshold-lpm).");
    }
    let count = |verdict| summary.rows.iter().filter(|r| r.verdict == Some(verdict)).count();
    let (clear, noise, below, unknown) = (
        count(Verdict::Clear),
        count(Verdict::InNoise),
        count(Verdict::BelowLeak),
        count(Verdict::Unknown),
    );
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
    Ok(())
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
    let suspect = inflations.iter().filter(|r| r.verdict == Some(Verdict::BelowLeak)).count();
    if settings.threshold().is_some() {
        writeln!(
            out,
            "{suspect} of {} inflations began while the threshold lay below the leak and may have \
             triggered themselves.",
            inflations.len()
        )?;
    }
    writeln!(out, "Not known: the cause of each inflation; this version does not judge it.")
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
