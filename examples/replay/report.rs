//! The report: one short section for each question asked at the bedside.

use crate::figures::{Row, Summary, quantile, spread};
use std::io::{self, Write};
use tidevane::breath::Kind;
use tidevane::leak::{Belief, Leak};
use tidevane::monitor::Settings;
use tidevane::quantity::{Flow, Mass, Share};
use tidevane::trigger::Verdict;

/// Writes the whole report.
pub(crate) fn write(
    out: &mut impl Write,
    summary: &Summary,
    settings: &Settings,
) -> io::Result<()> {
    heading(out, summary, settings)?;
    threshold(out, summary, settings)?;
    triggers(out, summary, settings)?;
    leak(out, summary)?;
    volume(out, summary, settings)?;
    support(out, summary)?;
    alarms(out, summary)?;
    wean(out, summary, settings)?;
    extubation(out)?;
    not_known(out, summary)?;
    writeln!(
        out,
        "\nAdvisory only, not a medical device. These are sums on a recording, not a judgement on a\n\
         patient: licensed practice and local protocol decide."
    )
}

fn section(out: &mut impl Write, title: &str) -> io::Result<()> {
    writeln!(out, "\n{title}\n{}", "-".repeat(title.chars().count()))
}

fn heading(out: &mut impl Write, summary: &Summary, settings: &Settings) -> io::Result<()> {
    writeln!(out, "tidevane: an independent second check, breath by breath")?;
    writeln!(out, "Recording: {}", summary.source)?;
    let own = summary.rows.iter().filter(|row| row.kind == Kind::Own).count();
    let flagged = summary.rows.iter().filter(|row| !row.trusted).count();
    writeln!(
        out,
        "{} samples over {}; {} breaths: {} inflations, {own} own; {flagged} flagged and left out \
         of all figures below.",
        summary.samples,
        length(summary.seconds()),
        summary.rows.len(),
        summary.rows.len() - own,
    )?;
    let weight = settings.weight().map_or("not given".into(), |w| format!("{} g", w.grams()));
    let lpm = |flow: Flow| format!("{:.2} L/min", flow.to_l_per_min());
    let threshold = settings.threshold().map_or("not given".into(), |t| lpm(t.flow()));
    let rate = settings.set_rate().map_or("not given".into(), |r| format!("{r:.0}"));
    writeln!(out, "Given: weight {weight}; trigger threshold {threshold}; set rate {rate}.")
}

fn length(seconds: f64) -> String {
    if seconds < 120.0 {
        format!("{seconds:.1} s")
    } else if seconds < 7_200.0 {
        format!("{:.1} min", seconds / 60.0)
    } else {
        format!("{:.1} h", seconds / 3_600.0)
    }
}

fn threshold(out: &mut impl Write, summary: &Summary, settings: &Settings) -> io::Result<()> {
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

fn triggers(out: &mut impl Write, summary: &Summary, settings: &Settings) -> io::Result<()> {
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

fn leak(out: &mut impl Write, summary: &Summary) -> io::Result<()> {
    section(out, "How much gas escapes beside the tube?")?;
    match summary.leak {
        Some(Leak::Share(share)) => writeln!(
            out,
            "At the end {:.0} % of the inspired volume did not come back (VTi - VTe over VTi, last \
             eight trusted breaths).",
            f64::from(share.to_bits()) / 655.36
        )?,
        Some(Leak::Negative(share)) => writeln!(
            out,
            "At the end {:.0} % more came back than went in: noise when small, else a sensor offset \
             or cold dry gas, not a leak.",
            -f64::from(share.to_bits()) / 655.36
        )?,
        _ => return writeln!(out, "Not known: no trusted breath was closed."),
    }
    let shares = || summary.trusted().filter_map(|row| row.leak_window);
    if let (Some(median), Some(most)) = (quantile(shares(), 0.5), quantile(shares(), 1.0)) {
        writeln!(
            out,
            "Over the recording: median {:.0} %, at most {:.0} %.",
            median * 100.0,
            most * 100.0
        )?;
    }
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
    Ok(())
}

fn share(value: f64) -> Share {
    Share::from_bits((value * 65_536.0).round() as i32)
}

fn per_kg(weight: Option<Mass>, ml: f64) -> String {
    weight.map_or(String::new(), |w| format!(", {:.1} mL/kg", ml / f64::from(w.grams()) * 1_000.0))
}

fn volume(out: &mut impl Write, summary: &Summary, settings: &Settings) -> io::Result<()> {
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
    writeln!(out, "Not known: the volume in the lung; sensor volumes include the leak.")
}

fn support(out: &mut impl Write, summary: &Summary) -> io::Result<()> {
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
        "Two conventions are in use. From the median peak of {peak:.1} over {base:.1} cmH2O:\n  \
         80 % of the peak ends at {:.1} cmH2O;\n  80 % of the rise above baseline ends at {:.1} \
         cmH2O.\nWhich one a machine means stands in its instructions.",
        0.8 * peak,
        base + 0.8 * (peak - base)
    )
}

fn alarms(out: &mut impl Write, summary: &Summary) -> io::Result<()> {
    section(out, "Which low-volume level would catch the infant's own breaths?")?;
    let volumes = || summary.of_kind(Kind::Own).map(|r| r.expired_ml);
    let (Some(fifth), Some(median)) = (quantile(volumes(), 0.05), quantile(volumes(), 0.5)) else {
        return writeln!(out, "Not known: no trusted own breath was seen.");
    };
    writeln!(
        out,
        "19 of 20 own breaths expire more than {fifth:.1} mL (median {median:.1} mL). A level below \
         the dead space would hide a breath that ventilates nothing; this version does not yet \
         check that."
    )
}

fn wean(out: &mut impl Write, summary: &Summary, settings: &Settings) -> io::Result<()> {
    section(out, "Is the infant carrying the load?")?;
    let rows: Vec<_> = summary.trusted().collect();
    if rows.len() < 20 {
        return writeln!(out, "Not known: fewer than 20 trusted breaths.");
    }
    let quarter = rows.len() / 4;
    writeln!(out, "{:<22}{:>16}{:>16}", "", "first quarter", "last quarter")?;
    let (first, last) = (&rows[..quarter], &rows[rows.len() - quarter..]);
    let mut line = |name: &str, value: &dyn Fn(&[&Row]) -> f64, decimals: usize| {
        writeln!(out, "{name:<22}{:>16.decimals$}{:>16.decimals$}", value(first), value(last))
    };
    line("breaths/min", &|r| per_minute(r, |_| 1.0), 0)?;
    line("own breaths/min", &|r| per_minute(r, |r| f64::from(u8::from(r.kind == Kind::Own))), 0)?;
    line("minute volume, mL", &|r| per_minute(r, |r| r.expired_ml), 0)?;
    if let Some(weight) = settings.weight() {
        let kg = f64::from(weight.grams()) / 1_000.0;
        line("  mL/kg", &|r| per_minute(r, |r| r.expired_ml) / kg, 0)?;
    }
    line("own share of it, %", &own_share, 0)?;
    writeln!(
        out,
        "Not known: whether the infant tires; that needs settings, steps and time, which this \
         version does not weigh."
    )
}

fn per_minute(rows: &[&Row], of: impl Fn(&Row) -> f64) -> f64 {
    let total: f64 = rows.iter().map(|row| of(row)).sum();
    let time: f64 = rows.iter().map(|row| row.period_s).sum();
    60.0 * total / time
}

fn own_share(rows: &[&Row]) -> f64 {
    let volume = |row: &&Row| row.expired_ml;
    let own: f64 = rows.iter().filter(|row| row.kind == Kind::Own).map(volume).sum();
    0.0 + 100.0 * own.max(0.0) / rows.iter().map(volume).sum::<f64>()
}

fn extubation(out: &mut impl Write) -> io::Result<()> {
    section(out, "Can the tube come out?")?;
    writeln!(
        out,
        "Not known: the published tests need a trial under stated settings, which this recording \
         does not name. A number alone never decides it."
    )
}

fn not_known(out: &mut impl Write, summary: &Summary) -> io::Result<()> {
    section(out, "What the sensors could not tell")?;
    let told = [
        (summary.bad_lines, "lines could not be read and were taken as gaps"),
        (summary.gaps, "gaps in the samples"),
        (summary.refused, "runs of refused readings (out of range or out of order)"),
        (summary.stuck, "times the readings stopped changing"),
        (summary.clipped, "times the flow sat at one extreme"),
    ];
    for (count, what) in told.iter().filter(|(count, _)| *count > 0) {
        writeln!(out, "{count} {what}.")?;
    }
    if told.iter().all(|(count, _)| *count == 0) {
        writeln!(out, "Nothing was missing or out of range.")?;
    }
    let flagged: Vec<_> = summary.rows.iter().filter(|row| !row.trusted).collect();
    if let (Some(first), Some(last)) = (flagged.first(), flagged.last()) {
        writeln!(
            out,
            "{} breaths are flagged, the first at {:.1} s, the last at {:.1} s.",
            flagged.len(),
            first.onset_s,
            last.onset_s
        )?;
    }
    Ok(())
}
