//! The published tests of readiness, each with what it was worth.

use crate::config::Bedside;
use crate::doc::Doc;
use crate::figures::{Summary, float};
use crate::text::{clock, decimals, length, percent};
use crate::trial::Trial;
use tidevane::quantity::{Span, Volume};
use tidevane::wean::{
    BELOW_THRESHOLD_GROUPS, BelowShare, Beside, Entry, EntryLimits, Met, NoBelowShare, NoRatio,
    PUBLISHED_TESTS, RatioOutcome, SHALLOW_CUTOFFS, TrialOutcome,
};

pub(super) fn write(doc: &mut Doc, summary: &Summary, bedside: &Bedside) {
    doc.section("Can the tube come out?");
    let Some(trial) = &summary.trial else {
        return doc.say(
            "Not known: the published tests need a stretch without inflations and without support, \
             and none was told (set_rate = 0 and support_peak_cmH2O = 0, at the start or as a \
             change). A number alone never decides it.",
        );
    };
    doc.say(format!(
        "Tested on the stretch without inflations from {}, which lasted {}. Each test stands beside \
         what it was worth where it was published. No verdict is drawn from them together.",
        clock(trial.from_s),
        length(seconds(trial.lasted()))
    ));
    let mut points = vec![ratio(trial), entry(trial, bedside), book(trial), below(trial)];
    points.extend(shallow(summary, trial));
    doc.points(&points);
    let rows: Vec<_> = PUBLISHED_TESTS
        .iter()
        .filter(|test| !test.name.starts_with("tension"))
        .map(|test| {
            let n = test.n.map_or("-".into(), |n| n.to_string());
            vec![
                test.name.into(),
                test.figures.to_string(),
                format!("{}, n {n}", test.population),
                test.year.to_string(),
            ]
        })
        .collect();
    doc.table(&["published test", "worth", "in whom", "year"], &rows);
    doc.say(
        "A test that foretells success in others does not foretell it here; infants who passed \
         have failed, and others succeeded who had not passed.",
    );
}

fn seconds(span: Span) -> f64 {
    span.to_us() as f64 / 1e6
}

fn ml(volume: Option<Volume>) -> String {
    volume.map_or("not known".into(), |v| format!("{} mL/min", decimals(float(v.to_bits()), 0)))
}

fn ratio(trial: &Trial) -> String {
    let (own, with) = (ml(trial.tally().minute_volume()), ml(trial.mechanical()));
    let found = match trial.ratio() {
        RatioOutcome::Reached(share) => format!("{}: reached", percent(share.get().to_num())),
        RatioOutcome::NotReached(share) => {
            format!("{}: not reached", percent(share.get().to_num()))
        }
        RatioOutcome::Unknown(why) => format!("not known, {}", no_ratio(why)),
    };
    format!(
        "Minute-volume ratio (own over that with inflations, at least 50 % over 10 min): own {own}, \
         with inflations {with}; {found}. Of 35 who reached it 30 stayed without the tube for 24 h \
         (Wilson 1998, J Perinatol)."
    )
}

const fn no_ratio(why: NoRatio) -> &'static str {
    match why {
        NoRatio::TooShort => "the stretch was shorter than 10 min",
        NoRatio::TooFewBreaths => "too few trusted breaths",
        NoRatio::NoOwn => "the own minute volume is not known",
        NoRatio::NoMechanical => "the minute volume with inflations is not known",
        _ => "out of range",
    }
}

fn entry(trial: &Trial, bedside: &Bedside) -> String {
    let entry =
        Entry { oxygen: bedside.oxygen, peak: trial.before.peak, rate: trial.before.set_rate };
    let report = EntryLimits::default().check(&entry);
    let met = |met| match met {
        Met::Met => "met",
        Met::NotMet => "not met",
        Met::NotKnown => "not known",
    };
    format!(
        "The settings that test began from: oxygen at most 35 % {}, peak at most 20 cmH2O {}, rate \
         at most 20 {}.",
        met(report.oxygen),
        met(report.peak),
        met(report.rate)
    )
}

fn book(trial: &Trial) -> String {
    let (outcome, totals) = trial.book();
    let found = match outcome {
        TrialOutcome::Completed => "lasted its 3 min without an event that fails it".into(),
        TrialOutcome::Failed { why, .. } => format!("failed: {why:?}"),
        TrialOutcome::Stopped(after) => {
            format!("stopped after {}", length(seconds(after)))
        }
        TrialOutcome::Running(_) => "still under way at the end".into(),
        TrialOutcome::Unknown(_) => {
            "cannot be known: nobody told of heart and saturation throughout".into()
        }
        TrialOutcome::NotBegun => "not begun".into(),
    };
    format!(
        "Spontaneous breathing trial of 3 min (fails on a heart under 100/min for more than 15 s, or \
         a saturation under 85 % in spite of more oxygen: Kamlin 2006, the rule from memory): \
         {found}. Slow heart {}, low saturation {} in all.",
        length(seconds(totals.slow_heart)),
        length(seconds(totals.low_saturation))
    )
}

fn below(trial: &Trial) -> String {
    let (share, span) = trial.below();
    let found = match share {
        BelowShare::Known(share) => format!("{} of the time", percent(share.get().to_num())),
        BelowShare::Unknown(NoBelowShare::TooShort) => {
            format!("{} so far; the published share needs 2 h", length(seconds(span)))
        }
        BelowShare::Unknown(_) => "not known, too much of it has no volume".into(),
    };
    let groups: Vec<_> = BELOW_THRESHOLD_GROUPS
        .iter()
        .map(|g| {
            let whole = |v: i32| decimals(float(v), 0);
            format!(
                "{} {} ({} to {})",
                g.group,
                whole(g.median.to_bits()),
                whole(g.low.to_bits()),
                whole(g.high.to_bits())
            )
        })
        .collect();
    format!(
        "Time with a minute volume under 125 mL/kg: {found}. Beside it, medians of minute volume per \
         kg in 41 infants of extremely low birth weight: {} (Vento 2004, J Matern Fetal Neonatal \
         Med).",
        groups.join(", ")
    )
}

fn shallow(summary: &Summary, trial: &Trial) -> Option<String> {
    let index = trial.rapid_shallow(summary.settings.weight()?)?;
    let beside: Vec<_> = SHALLOW_CUTOFFS
        .iter()
        .filter_map(|cutoff| {
            let side = match cutoff.beside(&index) {
                Beside::AtOrBelow => "at or below",
                Beside::Above => "above",
                Beside::OtherForm => return None,
            };
            Some(format!("{side} {} ({})", cutoff.at, cutoff.source))
        })
        .collect();
    Some(format!(
        "Rapid-shallow index {} breaths/min per mL/kg: {}; both cut-offs are of older children and \
         from memory.",
        decimals(index.value.value.to_num(), 1),
        beside.join(", ")
    ))
}
