//! Gas lost and gas moved.

use crate::doc::Doc;
use crate::figures::Summary;
use crate::row::{Row, stretches};
use crate::spread::{quantile, spread};
use crate::text::{KINDS, capital, decimals, kind_name};
use tidevane::alarm::BreathKind;
use tidevane::breath::Kind;
use tidevane::leak::{Leak, LeakConsistency, NoLeak, VolumeCredibility};
use tidevane::quantity::{Mass, Share};

pub(super) fn leak(doc: &mut Doc, summary: &Summary) {
    doc.section("leak", "How much gas escapes beside the tube?");
    if summary.trusted().next().is_none() {
        return doc.say("Not known: no breath is to be trusted.");
    }
    doc.say(leak_at_end(summary.leak));
    doc.method(
        "The share of the inspired gas that had not come back by the end of the breath: what leaks between breaths counts, \
         so that it can be more than where outward flow alone is counted.",
    );
    let shares = || summary.trusted().filter_map(|row| row.leak_window);
    let (Some(median), Some(most)) = (quantile(shares(), 0.5), quantile(shares(), 1.0)) else {
        return;
    };
    doc.say(format!(
        "Over the recording: median {}, at most {}. At the end: {}.",
        percent(median),
        percent(most),
        summary.leak_fit
    ));
    let at = |wanted| shares().filter(|share| belief(*share) == wanted).count();
    let (doubtful, hopeless) =
        (at(VolumeCredibility::Unreliable), at(VolumeCredibility::TargetingHopeless));
    if doubtful + hopeless == 0 {
        return doc.say(
            "It never passed 40 %, where a displayed tidal volume stops being usable (Mahmoud 2009, \
             Acta Paediatr, quoted second-hand).",
        );
    }
    doc.say(format!(
        "At {} of {} breaths it was above 40 %, where a displayed tidal volume stops being usable \
         (Mahmoud 2009, Acta Paediatr, quoted second-hand); at {hopeless} of them above 50 %: volume \
         targeting was found to work up to about that (Klingenberg 2011, J Perinatol), and that it fails \
         above is our converse, not the paper's. {}",
        doubtful + hopeless,
        shares().count(),
        doubtful_from(summary).map_or(String::new(), |when| format!("Above 40 %: {when}."))
    ));
}

/// When more than 40 % was lost for longer than a few breaths.
pub(crate) fn doubtful_from(summary: &Summary) -> Option<String> {
    let above =
        |row: &Row| row.leak_window.is_some_and(|share| belief(share) != VolumeCredibility::Usable);
    let when: Vec<_> = stretches(summary.trusted(), above, 60.0)
        .into_iter()
        .filter(|(_, _, n)| *n >= 20)
        .map(|(from, to, _)| format!("from {} to {}", summary.clock(from), summary.clock(to)))
        .collect();
    (!when.is_empty()).then(|| when.join(", "))
}

fn leak_at_end(leak: Option<Leak>) -> String {
    let share = leak.and_then(Leak::share).map_or(0.0, |s| s.get().to_num());
    let unknown = match leak {
        Some(Leak::Share(_)) if share >= 1.0 => {
            return "At the end as much leaked as went in, or more: by the end of a breath nothing had come \
                    back."
                .into();
        }
        Some(Leak::Share(_)) => {
            return format!(
                "At the end {} of the inspired volume did not come back (VTi - VTe over VTi of whole \
                 breaths, what leaks in between them counted but for pauses over 2 s; last eight trusted \
                 breaths).",
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
    if share >= 1.0 {
        "100 % (nothing had come back by the end)".into()
    } else {
        crate::text::percent(share)
    }
}

/// What a leak share leaves of a displayed volume.
pub(crate) fn belief(share: f64) -> VolumeCredibility {
    VolumeCredibility::at(Share::from_bits((share * 65_536.0).round() as i32))
}

fn per_kg(weight: Option<Mass>, ml: f64) -> String {
    weight.map_or(String::new(), |w| {
        format!(", {} mL/kg", decimals(ml / f64::from(w.grams()) * 1_000.0, 1))
    })
}

pub(super) fn volume(doc: &mut Doc, summary: &Summary) {
    let weight = summary.settings.weight();
    doc.section("volume", "What volumes were moved, and inside which pressures?");
    let mut points = Vec::new();
    for kind in KINDS {
        let name = capital(kind_name(kind));
        let rows = || summary.trusted().filter(move |row| row.whose == kind);
        let Some(expired) = spread(rows().map(|r| r.expired_ml), 1) else {
            if kind != BreathKind::Supported || summary.settings.machine().support_peak.is_some() {
                points.push(format!("{name} breaths: none trusted."));
            }
            continue;
        };
        let inspired = spread(rows().map(|r| r.inspired_ml), 1).unwrap_or_default();
        let median = quantile(rows().map(|r| r.expired_ml), 0.5).unwrap_or_default();
        points.push(format!(
            "{name} breaths ({}): expired {expired} mL{}; inspired {inspired} mL at the sensor; median \
             (middle half).",
            rows().count(),
            per_kg(weight, median)
        ));
    }
    for kind in KINDS.into_iter().filter(|kind| *kind != BreathKind::Own) {
        let name = kind_name(kind);
        let rows = || summary.trusted().filter(move |row| row.whose == kind);
        let (peak, base) =
            (spread(rows().map(|r| r.peak), 1), spread(rows().map(|r| r.baseline), 1));
        if let (Some(peak), Some(base)) = (peak, base) {
            points.push(format!(
                "Peak pressure of {name} ones {peak} cmH2O over a baseline of {base} cmH2O."
            ));
        }
    }
    if summary.limits_reached > 0 {
        points.push(format!(
            "The volume limit was reached by {} inspirations.",
            summary.limits_reached
        ));
    }
    if summary.limits_unknown > 0 {
        points.push(format!(
            "Readings were missing in {} inspirations: whether they reached the volume limit is not \
             known.",
            summary.limits_unknown
        ));
    }
    let lung = || summary.of_kind(Kind::Inflation).filter_map(|r| r.lung_ml);
    points.push(match (spread(lung(), 1), quantile(lung(), 0.5)) {
        (Some(all), Some(median)) => format!(
            "The lung got {all} mL{} an inflation: what went in at the sensor less the modelled leak.{}",
            per_kg(weight, median),
            if matches!(summary.leak_fit, LeakConsistency::Steeper(_)) {
                " The leak grows faster with pressure than one round a tube: it may open only under pressure."
            } else {
                ""
            }
        ),
        _ => "Not known: the volume in the lung; sensor volumes include the leak.".into(),
    });
    points.extend(super::target::points(summary));
    doc.points(&points);
    super::wanted::write(doc, summary);
    super::large::write(doc, summary);
}
