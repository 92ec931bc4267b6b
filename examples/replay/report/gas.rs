//! Gas lost and gas moved.

use super::section;
use crate::figures::{Summary, quantile, spread};
use crate::text::decimals;
use std::io::{self, Write};
use tidevane::breath::Kind;
use tidevane::leak::{Belief, Leak, NoLeak};
use tidevane::monitor::Settings;
use tidevane::quantity::{Mass, Share};

pub(super) fn leak(out: &mut impl Write, summary: &Summary) -> io::Result<()> {
    section(out, "How much gas escapes beside the tube?")?;
    writeln!(out, "{}", leak_at_end(summary.leak))?;
    let shares = || summary.trusted().filter_map(|row| row.leak_window);
    let (Some(median), Some(most)) = (quantile(shares(), 0.5), quantile(shares(), 1.0)) else {
        return Ok(());
    };
    writeln!(out, "Over the recording: median {}, at most {}.", percent(median), percent(most))?;
    let at = |belief| shares().filter(|s| Belief::at(share(*s)) == belief).count();
    let (doubtful, hopeless) = (at(Belief::Unreliable), at(Belief::TargetingHopeless));
    if doubtful + hopeless > 0 {
        writeln!(
            out,
            "At {} of {} breaths it was above 40 %, where a displayed tidal volume stops being \
             usable (Mahmoud 2009, Acta Paediatr); at {hopeless} of them above 50 %, where volume \
             targeting stops working (Klingenberg 2011, J Perinatol).",
            doubtful + hopeless,
            shares().count()
        )?;
    } else {
        writeln!(
            out,
            "It never passed 40 %, where a displayed tidal volume stops being usable (Mahmoud 2009, \
             Acta Paediatr)."
        )?;
    }
    writeln!(out, "At the end: {}.", summary.leak_fit)
}

fn leak_at_end(leak: Option<Leak>) -> String {
    let share = leak.and_then(Leak::share).map_or(0.0, |s| s.get().to_num());
    let unknown = match leak {
        Some(Leak::Share(_)) if share > 1.0 => {
            return "At the end gas flowed inward all the time: no expiratory flow was seen."
                .into();
        }
        Some(Leak::Share(_)) => {
            return format!(
                "At the end {} of the inspired volume did not come back (VTi - VTe over VTi, last \
                 eight trusted breaths).",
                percent(share)
            );
        }
        Some(Leak::Negative(_)) => {
            return format!(
                "At the end {} more came back than went in: noise when small, else a sensor offset \
                 or cold dry gas, not a leak.",
                percent(-share)
            );
        }
        Some(Leak::Unknown(NoLeak::NothingInspired)) => {
            "no gas went in over the last trusted breaths"
        }
        Some(Leak::Unknown(NoLeak::OutOfRange)) => "a volume was out of range",
        Some(Leak::Unknown(NoLeak::Flagged)) => "the last breath is flagged",
        Some(Leak::Unknown(NoLeak::NoBreath)) => "no trusted breath was closed",
        Some(Leak::Unknown(_)) => "the volumes do not tell",
        None => "no breath was closed",
    };
    format!("Not known: {unknown}.")
}

fn percent(share: f64) -> String {
    if share > 1.0 {
        "above 100 % (no expiratory flow was seen)".into()
    } else {
        format!("{} %", decimals(share * 100.0, 0))
    }
}

fn share(value: f64) -> Share {
    Share::from_bits((value * 65_536.0).round() as i32)
}

fn per_kg(weight: Option<Mass>, ml: f64) -> String {
    weight.map_or(String::new(), |w| {
        format!(", {} mL/kg", decimals(ml / f64::from(w.grams()) * 1_000.0, 1))
    })
}

pub(super) fn volume(
    out: &mut impl Write,
    summary: &Summary,
    settings: &Settings,
) -> io::Result<()> {
    section(out, "What volumes were moved, and inside which pressures?")?;
    for (kind, name) in [(Kind::Inflation, "Inflations"), (Kind::Own, "Own breaths")] {
        let rows = || summary.of_kind(kind);
        let Some(expired) = spread(rows().map(|r| r.expired_ml), 1) else {
            writeln!(out, "{name}: none trusted.")?;
            continue;
        };
        let inspired = spread(rows().map(|r| r.inspired_ml), 1).unwrap_or_default();
        let median = quantile(rows().map(|r| r.expired_ml), 0.5).unwrap_or_default();
        writeln!(
            out,
            "{name} ({}): expired {expired} mL{}; inspired {inspired} mL at the sensor; median \
             (middle half).",
            rows().count(),
            per_kg(settings.weight(), median)
        )?;
    }
    let inflations = || summary.of_kind(Kind::Inflation);
    if let (Some(peak), Some(baseline)) =
        (spread(inflations().map(|r| r.peak), 1), spread(inflations().map(|r| r.baseline), 1))
    {
        writeln!(
            out,
            "Peak pressure of inflations {peak} cmH2O over a baseline of {baseline} cmH2O."
        )?;
    }
    if summary.limits_reached > 0 {
        writeln!(out, "The volume limit was reached by {} inspirations.", summary.limits_reached)?;
    }
    match summary.proposal {
        Some(proposal) => writeln!(
            out,
            "For the target volume: {proposal}. Of {} proposals {} were held at the ceiling.",
            summary.proposals, summary.at_ceiling
        )?,
        None => writeln!(out, "No target volume was given, so none is held against the limits.")?,
    }
    let lung = || summary.of_kind(Kind::Inflation).filter_map(|r| r.lung_ml);
    match (spread(lung(), 1), quantile(lung(), 0.5)) {
        (Some(all), Some(median)) => writeln!(
            out,
            "Of that the lung got {all} mL{} an inflation: the inspired volume less the modelled \
             leak.",
            per_kg(settings.weight(), median)
        ),
        _ => writeln!(out, "Not known: the volume in the lung; sensor volumes include the leak."),
    }
}

pub(super) fn mechanics(out: &mut impl Write, summary: &Summary) -> io::Result<()> {
    section(out, "How stiff is the lung, and how narrow the way to it?")?;
    let fits = |i: usize| summary.trusted().filter_map(move |r| r.mechanics.map(|m| m[i]));
    let (Some(compliance), Some(resistance), Some(tau)) =
        (spread(fits(0), 2), spread(fits(1), 0), spread(fits(2), 3))
    else {
        return writeln!(out, "Not known: no breath was passive enough to tell.");
    };
    writeln!(
        out,
        "From {} passive breaths: compliance {compliance} mL/cmH2O, resistance {resistance} \
         cmH2O*s/L with the tube in it, time constant {tau} s; median (middle half).",
        fits(0).count()
    )?;
    if let Some(bend) = spread(summary.trusted().filter_map(|r| r.bend.map(|b| 100.0 * b)), 0) {
        writeln!(
            out,
            "Of the stiffness at the end of inflation {bend} % came with volume (%E2, Kano 1994, \
             J Appl Physiol): large and rising where the lung is overdistended, below zero where it \
             opens up."
        )?;
    }
    let told = summary.trusted().filter_map(|r| r.short);
    let short = told.clone().filter(|short| *short).count();
    writeln!(
        out,
        "Expiration lasted less than three time constants in {short} of {} breaths; gas may stay \
         trapped where it does.",
        told.count()
    )
}
