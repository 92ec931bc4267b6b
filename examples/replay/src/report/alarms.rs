//! Which alarms would have rung, and what their rings were worth.

use super::{levels, limits};
use crate::config::Bedside;
use crate::doc::Doc;
use crate::figures::Summary;
use crate::spread::quantile;
use crate::text::{decimals, percent};
use tidevane::quantity::Duration;

pub(super) fn write(doc: &mut Doc, summary: &Summary, bedside: &Bedside, set: &[String]) {
    doc.section("levels", "Which alarm levels would catch the infant's own breaths?");
    levels::write(doc, summary, bedside);
    limits::advice(doc, summary);
    doc.say(format!("Alarms set here to rehearse: {}.", set.join(", ")));
    if summary.rings.is_empty() {
        doc.say("None of them would have rung.");
    } else {
        let burden = &summary.burden;
        let per_hour = burden.per_hour(Duration::from_us((summary.seconds * 1e6) as u64));
        let brief = burden.brief_share().map_or(String::new(), |s| {
            format!(", {} for less than a minute", percent(s.get().to_num()))
        });
        doc.say(format!(
            "These would have rung: {}.{}",
            summary.rings.told(),
            // A rate of an hour means nothing of less.
            per_hour.filter(|_| summary.seconds >= 3_600.0).map_or(String::new(), |n| {
                format!(" In all {} an hour{brief}.", decimals(n.to_num(), 1))
            }),
        ));
    }
    of_leak(doc, summary);
    untold(doc, summary);
    while_tiring(doc, summary);
    limits::while_asked_back(doc, summary, bedside);
}

/// Whether any rang, whenever it began, while a step back was asked for.
fn while_tiring(doc: &mut Doc, summary: &Summary) {
    for (i, step) in summary.steps.all.iter().enumerate() {
        let Some((from, _)) = step.asked_back() else { continue };
        let rang: Vec<_> = summary
            .rings
            .between(from, step.to_s)
            .map(|ring| {
                let word = if ring.from_s < from { "since" } else { "at" };
                format!("{} {word} {}", ring.name, summary.clock(ring.from_s))
            })
            .collect();
        doc.say(format!(
            "While a step back was asked for in step {}, from {} to {}, {} rang.",
            i + 1,
            summary.clock(from),
            summary.clock(step.to_s),
            if rang.is_empty() { "none".into() } else { rang.join(", ") }
        ));
    }
}

/// Volume alarms that rang while the lung got enough: what was missing had leaked.
fn of_leak(doc: &mut Doc, summary: &Summary) {
    let mut points = Vec::new();
    for ring in summary.rings.iter().filter(|ring| ring.name.contains("volume low")) {
        let (at, name) = (ring.from_s, &ring.name);
        let near = || summary.trusted_between(at - 30.0, at + 30.0);
        let expired = quantile(near().map(|row| row.expired_ml), 0.5);
        let lung = quantile(near().filter_map(|row| row.lung_ml), 0.5);
        if let (Some(expired), Some(lung)) = (expired, lung)
            && lung > 1.25 * expired
        {
            points.push(format!(
                "{name} at {} came of the leak: expired {} mL while the lung got {} mL.",
                summary.clock(at),
                decimals(expired, 1),
                decimals(lung, 1)
            ));
        }
    }
    if !points.is_empty() {
        doc.points(&points);
    }
}

/// How long nobody could have said whether the infant breathes.
fn untold(doc: &mut Doc, summary: &Summary) {
    let is_blind = |name: &str| name.starts_with("sensor fault") || name.starts_with("no input");
    if summary.rings.iter().any(|ring| is_blind(&ring.name)) {
        doc.say(
            "While a sensor fault or no input rang, apnoea cannot be told: that it did not ring then \
             says nothing.",
        );
    }
}
