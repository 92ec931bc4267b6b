//! The report: one short section for each question asked at the bedside.

mod gas;
mod infant;
mod machine;

use crate::figures::Summary;
use std::io::{self, Write};
use tidevane::breath::Kind;
use tidevane::monitor::Settings;

/// Writes the whole report.
pub(crate) fn write(
    out: &mut impl Write,
    summary: &Summary,
    settings: &Settings,
) -> io::Result<()> {
    heading(out, summary, settings)?;
    machine::threshold(out, summary, settings)?;
    machine::triggers(out, summary, settings)?;
    gas::leak(out, summary)?;
    gas::volume(out, summary, settings)?;
    gas::mechanics(out, summary)?;
    machine::support(out, summary)?;
    infant::alarms(out, summary, settings)?;
    infant::wean(out, summary, settings)?;
    infant::extubation(out)?;
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
        "{} samples over {}; breaths: {} (inflations {}, own {own}), of which {flagged} flagged and \
         left out of all figures below.",
        summary.samples,
        length(summary.seconds),
        summary.rows.len(),
        summary.rows.len() - own,
    )?;
    let weight = settings.weight().map_or("not given".into(), |w| format!("{} g", w.grams()));
    writeln!(out, "Given: weight {weight}; {}.", settings.machine())?;
    for (at, settings) in &summary.changes {
        writeln!(out, "Changed at {at:.1} s: {}.", settings.machine())?;
    }
    if summary.is_upside_down() {
        writeln!(
            out,
            "In most breaths pressure is higher while gas flows out than while it flows in. Unassisted \
             breathing through a resistance looks so; where a machine inflated: is the flow sensor \
             the wrong way round?"
        )?;
    }
    Ok(())
}

fn length(seconds: f64) -> String {
    if 0.0 < seconds && seconds < 1.0 {
        format!("{seconds:.3} s")
    } else if seconds < 120.0 {
        format!("{seconds:.1} s")
    } else if seconds < 7_200.0 {
        format!("{:.1} min", seconds / 60.0)
    } else {
        format!("{:.1} h", seconds / 3_600.0)
    }
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
