//! How the infant fared step by step.

use crate::doc::Doc;
use crate::figures::{Summary, float};
use crate::steps::Step;
use crate::text::{decimals, length};
use tidevane::alarm::BreathKind;
use tidevane::quantity::{Mass, Share, Volume};
use tidevane::trend::{LoadVerdict, Tally};

pub(super) fn write(doc: &mut Doc, summary: &Summary) {
    doc.section("load", "Is the infant carrying the load?");
    let steps = &summary.steps.all;
    let rows: Vec<_> = steps.iter().enumerate().map(|(i, step)| what(summary, i, step)).collect();
    doc.prose_table(
        "The steps, and what was made of each",
        &["step", "from", "for", "set rate / peak / support to", "what was made of it"],
        rows,
        &[1, 2, 3, 4],
    );
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
    let names = [
        "step".to_owned(),
        "rate /min".into(),
        format!("set-rate, {per_kg}"),
        format!("supported, {per_kg}"),
        format!("own, {per_kg}"),
        format!("minute volume, {per_kg}/min"),
        "own + supported, %".into(),
        "f/VT".into(),
        "missed efforts /min".into(),
        "self-cycled /min".into(),
        "leak, %".into(),
    ];
    doc.table("Each step as it began and as it ended", &names.each_ref().map(String::as_str), rows);
    doc.method(
        "Began: the first minutes after the step had settled; ended: its last three whole minutes. \
         Volumes are means of what the lung got, corrected for leak by its law: they hold where \
         displayed ones do not, as far as the leak follows that. Own + supported is the share of those breaths in the minute volume, not of the \
         work: the machine helps supported breaths. f/VT is the rapid-shallow index, rate over tidal volume per \
         kg, of all breaths (a poor predictor: area under the curve 0.57 in 323 children, Intensive \
         Care Med 2002). A dash: not known.",
    );
    for (i, step) in steps.iter().enumerate() {
        if let Some((at, signs)) = step.asked_back() {
            doc.say(format!(
                "In step {} a step back was asked for from {} on, {} after it began, in the end for: \
                 {signs}. The step lasted until {}.",
                i + 1,
                summary.clock(at),
                length(at - step.from_s),
                summary.clock(step.to_s)
            ));
        }
    }
    let load = summary.settings.load();
    let share = |times: f64| crate::text::percent(times * load.change().get().to_num::<f64>());
    doc.method(format!(
        "A verdict rests on minutes, never on one breath. Signs: rate up and volume down by {} \
         within a step, or by {} against the step before (a step that cost much); minute volume down by {}; \
         own breaths halved; more pauses, more missed efforts, more pressure lost in \
         the tube; each in {} windows of three minutes, one ending every minute. The limits were \
         chosen on simulated shifts and have no published source. Nothing here knows gas exchange.",
        share(1.0),
        share(2.0),
        share(2.0),
        load.sustain()
    ));
}

fn what(summary: &Summary, i: usize, step: &Step) -> Vec<String> {
    let mut said: Vec<String> = Vec::new();
    let mut named = "";
    for (at, verdict) in &step.verdicts {
        if verdict.name() == named {
            continue;
        }
        named = verdict.name();
        said.push(match verdict {
            LoadVerdict::CannotTell(why) => format!("{} {named}: {why}", summary.clock(*at)),
            _ => format!("{} {named}", summary.clock(*at)),
        });
    }
    if said.is_empty() {
        said.push("cannot tell: the step is too young".into());
    }
    vec![
        (i + 1).to_string(),
        summary.clock(step.from_s),
        length(step.to_s - step.from_s),
        super::set(&step.machine),
        said.join("; "),
    ]
}

fn figures(name: &str, t: &Tally, weight: Option<Mass>) -> Vec<String> {
    let ml = |volume: Option<Volume>, places| {
        let Some(volume) = volume else { return "-".into() };
        let kg = weight.map_or(1.0, |w| f64::from(w.grams()) / 1_000.0);
        decimals(float(volume.to_bits()) / kg, places)
    };
    let rate = |count| t.a_minute(count).map_or("-".into(), |r| decimals(float(r.to_bits()), 0));
    let own = t.infant_share().map(|s| float(s.to_bits()));
    let whole = |share: f64| decimals(100.0 * share, 0);
    let index = weight.and_then(|w| t.rapid_shallow(w));
    vec![
        name.into(),
        rate(t.breaths()),
        ml(t.volume(BreathKind::Assured), 1),
        ml(t.volume(BreathKind::Supported), 1),
        ml(t.volume(BreathKind::Own), 1),
        ml(t.minute_volume(), 0),
        own.map_or("-".into(), whole),
        index.map_or("-".into(), |i| decimals(i.value.value.to_num(), 1)),
        rate(t.missed()),
        rate(t.self_cycled()),
        t.leak().map_or("-".into(), |s| {
            if s > Share::ONE { ">100".into() } else { whole(float(s.to_bits())) }
        }),
    ]
}
