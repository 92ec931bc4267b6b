//! The report: a shift in short, then one section for each question asked at the bedside.

mod alarms;
mod brief;
mod extubation;
mod gas;
mod journal;
mod large;
mod levels;
mod limits;
mod lung;
mod plan;
mod support;
mod target;
mod trigger;
mod wean;
mod worth;

use crate::config::Setup;
use crate::doc::Doc;
use crate::figures::{Row, Summary};
use crate::text::{clock, length, name, percent};
use std::collections::BTreeMap;
use tidevane::breath::Kind;
use tidevane::monitor::MachineSet;
use tidevane::quantity::Pressure;

const CAUTION: &str = "Advisory only, not a medical device. These are sums on a recording, not a \
                       judgement on a patient: licensed practice and local protocol decide.";

/// After so many seconds without input the report begins with it.
const BLIND: f64 = 10.0;

/// The whole report.
pub(crate) fn write(summary: &Summary, setup: &Setup) -> Doc {
    let mut doc = Doc::new("tidevane: an independent second check, breath by breath");
    heading(&mut doc, summary, setup);
    brief::write(&mut doc, summary);
    trigger::threshold(&mut doc, summary);
    trigger::causes(&mut doc, summary);
    gas::leak(&mut doc, summary);
    gas::volume(&mut doc, summary);
    lung::write(&mut doc, summary);
    support::write(&mut doc, summary, &setup.bedside);
    alarms::write(&mut doc, summary, &setup.bedside, &setup.alarms);
    wean::write(&mut doc, summary);
    plan::write(&mut doc, summary, &setup.bedside);
    extubation::write(&mut doc, summary);
    journal::write(&mut doc, summary);
    not_known(&mut doc, summary);
    doc.section("Cautions");
    doc.say(CAUTION);
    doc
}

/// Nothing was heard at the end: what follows is of the time before.
fn blind(doc: &mut Doc, summary: &Summary) {
    if summary.blind_s >= BLIND {
        doc.points(&[format!(
            "NO USABLE INPUT at the end, for {}: all figures are of the time before. Look at the infant.",
            length(summary.blind_s)
        )]);
    }
}

fn heading(doc: &mut Doc, summary: &Summary, setup: &Setup) {
    blind(doc, summary);
    implausible(doc, summary);
    doc.say(CAUTION);
    let own = summary.rows.iter().filter(|row| row.kind == Kind::Own).count();
    let flagged = summary.rows.iter().filter(|row| !row.trusted).count();
    let weight = setup.settings.weight().map_or("not given".into(), |w| format!("{} g", w.grams()));
    let oxygen = setup
        .bedside
        .oxygen
        .map_or(String::new(), |share| format!(", oxygen {}", percent(share.get().to_num())));
    doc.points(&[
        format!("Recording: {}", name(&summary.source)),
        format!(
            "{} samples over {}; breaths: {} (inflations {}, own {own}), of which {flagged} flagged \
             and left out of all figures below.",
            summary.samples,
            length(summary.seconds),
            summary.rows.len(),
            summary.rows.len() - own,
        ),
        format!(
            "Given at the start: weight {weight}; {}{oxygen}. Times are hours:minutes from the start.",
            summary.steps.all.first().map(|step| step.machine).unwrap_or_default()
        ),
    ]);
}

/// What cannot be stands before all figures.
fn implausible(doc: &mut Doc, summary: &Summary) {
    let points: Vec<_> = summary
        .implausible
        .iter()
        .map(|(why, (breaths, first))| {
            format!(
                "NUMBERS THAT CANNOT BE, in {breaths} of {} breaths, first at {}: {why}. They are left \
                 out of all figures below.",
                summary.rows.len(),
                clock(*first)
            )
        })
        .collect();
    if !points.is_empty() {
        doc.points(&points);
    }
}

/// Rate, peak and support as short as a table needs them.
fn set(machine: &MachineSet) -> String {
    let pressure = |p: Option<Pressure>| p.map_or("-".into(), |p| format!("{:.1}", p.get()));
    let rate = machine.set_rate.map_or("-".into(), |r| format!("{:.0}", r.get()));
    format!("{rate} / {} / {}", pressure(machine.peak), pressure(machine.support_peak))
}

/// Why breaths were flagged, by number.
fn reasons(flagged: &[&Row]) -> String {
    let mut why: BTreeMap<&str, usize> = BTreeMap::new();
    for name in flagged.iter().flat_map(|row| row.flags.names()) {
        *why.entry(name).or_default() += 1;
    }
    why.iter().map(|(name, n)| format!("{n} {name}")).collect::<Vec<_>>().join(", ")
}

fn not_known(doc: &mut Doc, summary: &Summary) {
    doc.section("What the sensors could not tell");
    let told = [
        (summary.bad_lines, "lines could not be read and were taken as gaps"),
        (summary.gaps, "gaps in the samples"),
        (summary.refused, "runs of refused readings (out of range or out of order)"),
        (summary.stuck, "times the readings stopped changing"),
        (summary.clipped, "times the flow sat at one extreme"),
        (summary.opened, "times the circuit stood open, or suction drew"),
    ];
    let mut points: Vec<_> = told
        .iter()
        .filter(|(count, _)| *count > 0)
        .map(|(count, what)| format!("{count} {what}."))
        .collect();
    if points.is_empty() {
        points.push("Nothing was missing or out of range.".into());
    }
    let flagged: Vec<_> = summary.rows.iter().filter(|row| !row.trusted).collect();
    if let (Some(first), Some(last)) = (flagged.first(), flagged.last()) {
        points.push(format!(
            "{} breaths are flagged, the first at {}, the last at {}: {}.",
            flagged.len(),
            clock(first.onset_s),
            clock(last.onset_s),
            reasons(&flagged)
        ));
    }
    points.push(
        "Nothing here knows blood gas, weight gain or how the infant looks, and oxygen only as it was \
         given; what a sensor reads wrong without showing it stays wrong."
            .into(),
    );
    doc.points(&points);
}
