//! Is the target volume reached inside the pressure limits, and what would keep it without a target?

use crate::figures::{LATE, Summary, float};
use crate::spread::spread;
use crate::target::BOUNDS;
use crate::text::{decimals, many};
use tidevane::alarm::BreathKind;
use tidevane::volume::Proposal;

pub(super) fn points(summary: &Summary) -> Vec<String> {
    let Some(proposal) = summary.settings.proposal() else {
        return vec!["No target volume was given, so none is held against the limits.".into()];
    };
    let mut points = vec![last(summary, &proposal)];
    points.extend(blame(summary));
    points.extend(without(summary, &proposal));
    points
}

fn last(summary: &Summary, proposal: &Proposal) -> String {
    let target = &summary.target;
    let (Some(last), Some((held, n, since))) = (target.last, target.now()) else {
        return format!("For the target of {:.1}: no inflation told a peak.", proposal.target());
    };
    let bounds: Vec<_> = target
        .bounds
        .iter()
        .zip(BOUNDS)
        .filter(|(count, _)| **count > 0)
        .map(|(count, (_, words))| format!("{count} {words}"))
        .collect();
    format!(
        "For the target of {:.1} under a ceiling of {:.1}, from the last inflation that told: {last}. Held \
         {held} since {}, {n} in a row. Of {} proposals in all, held: {}.",
        proposal.target(),
        proposal.ceiling(),
        summary.clock(since),
        target.made,
        bounds.join(", ")
    )
}

/// Whether the ceiling or the leak stands in the way.
fn blame(summary: &Summary) -> Vec<String> {
    let target = &summary.target;
    let mut points = Vec::new();
    if let Some((n, from, to)) = target.longest {
        points.push(format!(
            "The ceiling stood in the way: at the longest {} in a row needed more than it allows, from {} to \
             {}.",
            many(n, "inflation", "inflations"),
            summary.clock(from),
            summary.clock(to)
        ));
    }
    if target.leak > 0 {
        points.push(format!(
            "The leak stood in the way: for {} inflations it was too large to aim at a volume, or not \
             known.",
            target.leak
        ));
    }
    if target.held > 0 {
        points.push(format!("{} inflations were flagged or moved nothing.", target.held));
    }
    points
}

/// What a fixed peak would be that keeps the volume.
fn without(summary: &Summary, proposal: &Proposal) -> Option<String> {
    let late = summary.trusted_since(summary.seconds - LATE);
    let assured = late.filter(|row| row.whose == BreathKind::Assured);
    let moved = spread(assured.clone().filter_map(|row| row.lung_ml), 1);
    Some(format!(
        "Taken away, the fixed peak that keeps what the last {} min moved is {} cmH2O, of which the lung \
         got {} mL (median and middle half); the ceiling of {} cmH2O is not that peak.",
        decimals(LATE / 60.0, 0),
        spread(assured.map(|row| row.peak), 1)?,
        moved.unwrap_or("unknown".into()),
        decimals(float(proposal.ceiling().to_bits()), 1),
    ))
}
