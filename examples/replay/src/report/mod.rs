//! The sections of the report: one for each question asked at the bedside.

mod alarms;
mod extubation;
mod gas;
mod journal;
mod large;
pub(crate) mod levels;
pub(crate) mod limits;
mod lung;
pub(crate) mod pauses;
pub(crate) mod plan;
mod support;
mod target;
mod trigger;
pub(crate) mod wanted;
mod wean;
mod worth;

use crate::answer::Top;
use crate::config::Setup;
use crate::doc::{Block, Doc};
use crate::figures::Summary;
use crate::row::Row;
use crate::text::{capital, length, many, name, percent};
use std::collections::BTreeMap;
use tidevane::breath::Kind;
use tidevane::monitor::MachineSettings;
use tidevane::quantity::Pressure;

pub(crate) use extubation::trial;
pub(crate) use gas::{belief, doubtful_from};
pub(crate) use large::LIMITS;
pub(crate) use plan::{MINUTE, NEEDED};
pub(crate) use support::full as full_inflation;

pub(crate) const CAUTION: &str =
    "Advisory only, not a medical device. Licensed practice and local protocol decide.";

/// The report: what stands on top, and the sections under it.
pub(crate) struct Report<'a> {
    pub(crate) summary: &'a Summary,
    pub(crate) setup: &'a Setup,
    pub(crate) given: Vec<String>,
    pub(crate) top: Top,
    pub(crate) doc: Doc,
}

impl<'a> Report<'a> {
    pub(crate) fn new(summary: &'a Summary, setup: &'a Setup) -> Self {
        let (top, doc) = (Top::new(summary, setup), sections(summary, setup));
        Self { summary, setup, given: given(summary, setup), top, doc }
    }

    /// The top alone, as text.
    pub(crate) fn brief(&self) -> String {
        self.top.text(&name(&self.summary.source), CAUTION)
    }

    /// All of it.
    pub(crate) fn markdown(&self) -> String {
        let given = Block::Points(self.given.clone()).markdown();
        let caution = Block::Say(CAUTION.into()).markdown();
        let alerts = match self.top.alerts.as_slice() {
            [] => String::new(),
            alerts => Block::Points(alerts.into()).markdown(),
        };
        let (top, rest) = (self.top.markdown(), self.doc.markdown());
        format!(
            "# tidevane: an independent second check, breath by breath\n{alerts}{caution}{given}{top}{rest}"
        )
    }
}

/// The sections, in the order of the questions.
fn sections(summary: &Summary, setup: &Setup) -> Doc {
    let mut doc = Doc::default();
    trigger::threshold(&mut doc, summary);
    trigger::causes(&mut doc, summary);
    gas::leak(&mut doc, summary);
    gas::volume(&mut doc, summary);
    lung::write(&mut doc, summary);
    support::write(&mut doc, summary, &setup.bedside);
    alarms::write(&mut doc, summary, &setup.bedside, &setup.alarms);
    wean::write(&mut doc, summary);
    pauses::write(&mut doc, summary);
    plan::write(&mut doc, summary, &setup.bedside);
    extubation::write(&mut doc, summary);
    journal::write(&mut doc, summary);
    not_known(&mut doc, summary);
    doc.section("cautions", "Cautions");
    doc.say(CAUTION);
    doc
}

/// What was read, and what was told of it.
pub(crate) fn given(summary: &Summary, setup: &Setup) -> Vec<String> {
    let own = summary.rows.iter().filter(|row| row.kind == Kind::Own).count();
    let flagged = summary.rows.iter().filter(|row| !row.trusted).count();
    let blind = summary.blind.part();
    let blind = blind.map_or(String::new(), |part| format!(", blind for {part}"));
    let weight = setup.settings.weight().map_or("not given".into(), |w| format!("{} g", w.grams()));
    let oxygen = setup
        .bedside
        .oxygen
        .map_or(String::new(), |share| format!(", oxygen {}", percent(share.get().to_num())));
    vec![
        format!("Recording: {}", name(&summary.source)),
        format!(
            "{} over {}{blind}; {} breaths: {} inflations and {own} own. {flagged} flagged and left out of all \
             figures.",
            match summary.samples {
                1 => "one sample".to_owned(),
                n => format!("{n} samples"),
            },
            length(summary.seconds),
            summary.rows.len(),
            summary.rows.len() - own,
        ),
        format!(
            "Given at the start: weight {weight}; {}{oxygen}. Times: {}{}.",
            summary.steps.all.first().map(|step| step.machine).unwrap_or_default(),
            times(summary),
            if summary.is_shortened { ", without the silences in the recording" } else { "" }
        ),
    ]
}

/// What times are told by.
fn times(summary: &Summary) -> String {
    let name = summary.wall.name();
    summary.wall.span().map_or(name.clone(), |span| format!("{name}, {span}"))
}

/// Rate, peak and support as short as a table needs them.
fn set(machine: &MachineSettings) -> String {
    let pressure = |p: Option<Pressure>| p.map_or("-".into(), |p| format!("{:.1}", p.get()));
    let rate = machine.set_rate.map_or("-".into(), |r| format!("{:.0}", r.get()));
    format!("{rate} / {} / {}", pressure(machine.peak), pressure(machine.support_peak))
}

/// Why breaths were flagged, by number.
pub(crate) fn reasons(flagged: impl Iterator<Item = Row>) -> String {
    let mut why: BTreeMap<&str, usize> = BTreeMap::new();
    for name in flagged.flat_map(|row| row.flags.names()) {
        *why.entry(name).or_default() += 1;
    }
    why.iter().map(|(name, n)| format!("{n} {name}")).collect::<Vec<_>>().join(", ")
}

fn not_known(doc: &mut Doc, summary: &Summary) {
    doc.section("sensors", "What the sensors could not tell");
    let told = [
        (summary.bad_lines, "line", "lines", "could not be read", "taken as gaps"),
        (summary.repeated, "row", "rows", "repeated the one before", "left out"),
        (summary.gaps, "gap", "gaps", "in the samples", ""),
        (summary.refused, "run", "runs", "of readings refused (out of range or out of order)", ""),
        (summary.stuck, "time", "times", "the readings stopped changing", ""),
        (summary.clipped, "time", "times", "the flow sat at one extreme", ""),
        (summary.opened, "time", "times", "the circuit stood open, or suction drew", ""),
    ];
    let mut points: Vec<_> = told
        .iter()
        .filter(|(count, ..)| *count > 0)
        .map(|(count, one, more, what, so)| {
            let n = usize::try_from(*count).unwrap_or(usize::MAX);
            let so = if so.is_empty() { String::new() } else { format!(", {so}") };
            format!("{} {what}{so}.", capital(&many(n, one, more)))
        })
        .collect();
    if let Some(blind) = summary.blind.told() {
        points.insert(0, format!("Nothing usable was heard for {blind}."));
    }
    if points.is_empty() {
        points.push("Nothing was missing or out of range.".into());
    }
    let flagged = summary.rows.iter().filter(|row| !row.trusted);
    if let (Some(first), Some(last)) = (flagged.clone().next(), flagged.clone().next_back()) {
        points.push(format!(
            "{} flagged, the first at {}, the last at {}: {}.",
            capital(&many(flagged.clone().count(), "breath is", "breaths are")),
            summary.clock(first.onset_s),
            summary.clock(last.onset_s),
            reasons(flagged)
        ));
    }
    points.push(
        "Nothing here knows blood gas, weight gain or how the infant looks, and oxygen only as it was \
         given; what a sensor reads wrong without showing it stays wrong."
            .into(),
    );
    doc.points(&points);
}
