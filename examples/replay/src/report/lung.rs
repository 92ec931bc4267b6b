//! How stiff, how narrow, and how far it empties.

use crate::doc::Doc;
use crate::figures::Summary;
use crate::spread::spread;

/// More changes of the lung make no point of their own.
const MOST_JUMPS: usize = 6;

pub(super) fn write(doc: &mut Doc, summary: &Summary) {
    doc.section("lung", "How stiff is the lung, and how narrow the way to it?");
    let fits = |i: usize| summary.trusted().filter_map(move |r| r.mechanics.map(|m| m[i]));
    let (Some(compliance), Some(resistance), Some(tau)) =
        (spread(fits(0), 2), spread(fits(1), 0), spread(fits(2), 3))
    else {
        return doc.say("Not known: no breath was passive enough to tell.");
    };
    let mut points = vec![format!(
        "From {}: compliance {compliance} mL/cmH2O, resistance {resistance} \
         cmH2O·s/L with the tube in it, time constant {tau} s; median (middle half). The last of them was \
         at {}: what has changed since is not known.",
        match fits(0).count() {
            1 => "one passive breath".to_owned(),
            n => format!("{n} passive breaths"),
        },
        summary.clock(summary.last_passive_s().unwrap_or_default())
    )];
    if let Some(bend) = spread(summary.trusted().filter_map(|r| r.bend.map(|b| 100.0 * b)), 0) {
        points.push(format!(
            "Bend of the pressure-volume curve: {bend} % of the stiffness at the end of inflation \
             came with volume (%E2, Kano 1994, J Appl Physiol). Large and rising where the lung is \
             overdistended, below zero where it opens up."
        ));
    }
    let jumps = summary.jumps.iter().take(MOST_JUMPS);
    points.extend(jumps.map(|(at, jump)| format!("Told at {}: {jump}.", summary.clock(*at))));
    if let Some(more) = summary.jumps.len().checked_sub(MOST_JUMPS).filter(|more| *more > 0) {
        points.push(format!("{more} more such changes; all are in the events."));
    }
    let told = summary.trusted().filter_map(|r| r.short);
    let short = told.clone().filter(|short| *short).count();
    points.push(format!(
        "Expiration lasted less than three time constants in {short} of {} breaths; gas may stay \
         trapped where it does.",
        told.count()
    ));
    doc.points(&points);
}
