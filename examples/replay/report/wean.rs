//! How the infant fared step by step.

use crate::doc::Doc;
use crate::figures::{Summary, float};
use crate::steps::Step;
use crate::text::{clock, decimals, length};
use tidevane::alarm::BreathKind;
use tidevane::quantity::{Mass, Volume};
use tidevane::wean::{RapidShallow, Tally};

pub(super) fn write(doc: &mut Doc, summary: &Summary) {
    doc.section("Is the infant carrying the load?");
    let steps = &summary.steps.all;
    let rows: Vec<_> = steps.iter().enumerate().map(|(i, step)| what(i, step)).collect();
    doc.table(&["step", "from", "for", "set rate, peak, support to", "what was made of it"], &rows);
    let weight = summary.settings.weight();
    let mut rows = Vec::new();
    for (i, step) in steps.iter().enumerate() {
        if step.baseline.breaths() > 0 {
            rows.push(figures(&format!("{} began", i + 1), &step.baseline, weight));
        }
        match step.last {
            Some(last) => rows.push(figures(&format!("{} ended", i + 1), &last, weight)),
            None => rows.push(vec![format!("{} (too short)", i + 1)]),
        }
    }
    let per_kg = if weight.is_some() { "mL/kg" } else { "mL" };
    let (volumes, minute) =
        (format!("own / supported / assured, {per_kg}"), format!("minute volume, {per_kg}/min"));
    doc.table(
        &[
            "step",
            "rate /min",
            &volumes,
            &minute,
            "infant's share",
            "f/VT",
            "missed /min",
            "self /min",
            "leak",
        ],
        &rows,
    );
    doc.say(
        "Began: the first minutes after the step had settled; ended: its last three whole minutes. \
         Volumes are those in the lung, means. The infant's share is that of own and supported \
         breaths in the minute volume; f/VT is the rapid-shallow index, rate over tidal volume per \
         kg, of all breaths (a poor predictor: area under the curve 0.57 in 323 children, Intensive \
         Care Med 2002). A dash: not known.",
    );
    for (i, step) in steps.iter().enumerate() {
        if let Some((at, signs)) = step.asked_back() {
            doc.say(format!(
                "In step {} a step back was asked for at {}, {} after it began: {signs}.",
                i + 1,
                clock(at),
                length(at - step.from_s),
            ));
        }
    }
    doc.say(
        "A verdict rests on minutes, never on one breath; it weighs rate, volumes, pauses, missed \
         efforts and the loss in the tube against the step's own beginning and against the step \
         before. It knows nothing of gas exchange.",
    );
}

fn what(i: usize, step: &Step) -> Vec<String> {
    let worst = step.asked_back().map(|(at, signs)| format!("step back at {}: {signs}", clock(at)));
    let last = step
        .verdicts
        .last()
        .map_or("cannot tell: the step is too young".into(), |(_, v)| v.to_string());
    vec![
        (i + 1).to_string(),
        clock(step.from_s),
        length(step.to_s - step.from_s),
        super::set(&step.machine),
        worst.unwrap_or(last),
    ]
}

fn figures(name: &str, t: &Tally, weight: Option<Mass>) -> Vec<String> {
    let ml = |volume: Option<Volume>, places| {
        let Some(volume) = volume else { return "-".into() };
        let kg = weight.map_or(1.0, |w| f64::from(w.grams()) / 1_000.0);
        decimals(float(volume.to_bits()) / kg, places)
    };
    let rate = |count| t.a_minute(count).map_or("-".into(), |r| decimals(float(r.to_bits()), 0));
    let kinds = BreathKind::ALL.map(|kind| ml(t.volume(kind), 1)).join(" / ");
    let share = |kind| t.volume_share(kind).map(|s| float(s.to_bits()));
    let own = share(BreathKind::Own).zip(share(BreathKind::Supported)).map(|(a, b)| a + b);
    let index =
        weight.and_then(|w| RapidShallow::per_ml_per_kg(t.rate()?, t.mean_volume()?, w).ok());
    vec![
        name.into(),
        rate(t.breaths()),
        kinds,
        ml(t.minute_volume(), 0),
        own.map_or("-".into(), crate::text::percent),
        index.map_or("-".into(), |i| decimals(i.value.value.to_num(), 1)),
        rate(t.missed()),
        rate(t.self_cycled()),
        t.leak().map_or("-".into(), |s| crate::text::percent(float(s.to_bits()))),
    ]
}
