//! The published tests of readiness, each with what it was worth.

use super::worth::worth;
use crate::doc::Doc;
use crate::figures::{Summary, float};
use crate::spread::interval;
use crate::text::{decimals, length, percent};
use crate::trial::Trial;
use tidevane::bedside::{
    BELOW_THRESHOLD_GROUPS, BelowShare, Met, NoBelowShare, NoRatio, PUBLISHED_TESTS, RatioOutcome,
    SHALLOW_CUTOFFS, TrialOutcome, anatomical_dead_space,
};
use tidevane::quantity::{Duration, Mass, Volume};
use tidevane::trend::ReadinessState;

pub(super) fn write(doc: &mut Doc, summary: &Summary) {
    doc.section("tube", "Can the tube come out?");
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
        summary.clock(trial.from_s),
        length(seconds(trial.state.lasted()))
    ));
    let mut points = vec![ratio(trial), entry(trial), book(&trial.state), below(trial)];
    points.extend(shallow(trial));
    points.extend(small(summary, trial));
    doc.points(&points);
    let grams = summary.settings.weight().map(Mass::grams);
    let mut tests: Vec<_> =
        PUBLISHED_TESTS.iter().filter(|test| !test.name.starts_with("tension")).collect();
    tests.sort_by_key(|test| nearness(test.population, grams));
    let rows: Vec<_> = tests
        .into_iter()
        .map(|test| {
            let n = test.n.map_or("-".into(), |n| n.to_string());
            vec![
                format!("{}, for {}", test.name, test.foretells),
                worth(test),
                format!("{}, n {n}", test.population),
                test.source.into(),
            ]
        })
        .collect();
    doc.prose_table(
        "Published tests",
        &["published test", "worth", "in whom", "where"],
        rows,
        &[1, 2, 3],
    );
    doc.method(
        "In brackets 95 % intervals (Wilson score) from the counts behind a figure, worked back from it \
         where the paper does not print them. A test that foretells success in others does not foretell it here; infants who passed \
         have failed, and others succeeded who had not passed.",
    );
}

/// Those tried on infants of this weight before others.
fn nearness(population: &str, grams: Option<u32>) -> u8 {
    let is_small = grams.map(|grams| grams < 1_250);
    match population {
        "under 1250 g" | "below 1250 g" if is_small == Some(true) => 0,
        "above 1250 g" if is_small == Some(false) => 0,
        "under 1250 g" | "below 1250 g" | "above 1250 g" if is_small.is_some() => 2,
        "children" => 3,
        _ => 1,
    }
}

fn seconds(span: Duration) -> f64 {
    span.to_us() as f64 / 1e6
}

fn ml(volume: Option<Volume>) -> String {
    volume.map_or("not known".into(), |v| format!("{} mL/min", decimals(float(v.to_bits()), 0)))
}

fn ratio(trial: &Trial) -> String {
    let (own, with) =
        (ml(trial.state.tally().minute_volume()), ml(trial.state.before().mechanical));
    let found = match trial.readiness.ratio(&trial.state) {
        RatioOutcome::Reached(share) => format!("{}: reached", percent(share.get().to_num())),
        RatioOutcome::NotReached(share) => {
            format!("{}: not reached", percent(share.get().to_num()))
        }
        RatioOutcome::Unknown(why) => format!("not known, {}", no_ratio(why)),
    };
    format!(
        "Minute-volume ratio (own over that with inflations, at least 50 % over 10 min): own {own}, \
         with inflations {with}; {found}. Of 35 who reached it 30 stayed without the tube for 24 h (86 %, \
         {}; Wilson 1998, J Perinatol).",
        interval(30, 35)
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

fn entry(trial: &Trial) -> String {
    let report = trial.readiness.entry(&trial.state);
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

/// What the breathing trial came to. Nobody tells here whether oxygen was raised, so a low
/// saturation leaves it open.
pub(crate) fn trial(of: &ReadinessState) -> String {
    let low = of.low_saturation();
    match of.trial() {
        TrialOutcome::Completed if low > Duration::ZERO => format!(
            "not decided (saturation under 85 % for {}, and whether oxygen was raised was not \
             told; no slow heart)",
            length(seconds(low))
        ),
        TrialOutcome::Completed => {
            "lasted its time, and the heart was not slow for too long".into()
        }
        TrialOutcome::Failed { .. } => "failed (slow heart for more than 15 s)".into(),
        TrialOutcome::Stopped(after) => {
            format!("stopped after {}", length(seconds(after)))
        }
        TrialOutcome::Running(_) => "still under way at the end".into(),
        TrialOutcome::Unknown(_) => {
            "cannot be known, nobody told of heart and saturation throughout".into()
        }
        TrialOutcome::NotBegun => "not begun".into(),
    }
}

fn book(of: &ReadinessState) -> String {
    format!(
        "Spontaneous breathing trial of 3 min (fails on a heart under 100/min for more than 15 s, or \
         a saturation under 85 % in spite of more oxygen: Kamlin 2006, the rule not checked against \
         the paper): {}. Slow heart {}, low saturation {} in all.",
        trial(of),
        length(seconds(of.slow_heart())),
        length(seconds(of.low_saturation()))
    )
}

fn below(trial: &Trial) -> String {
    let own = trial.readiness.own_per_kg(&trial.state).map_or("not known".into(), |volume| {
        format!("{} mL/kg", decimals(float(volume.to_bits()), 0))
    });
    let found = match trial.readiness.below(&trial.state) {
        BelowShare::Known(share) => format!("{} of the time", percent(share.get().to_num())),
        BelowShare::Unknown(NoBelowShare::TooShort) => format!(
            "{} of {}, not to be compared, since the published share is of 2 h",
            length(seconds(trial.state.time_below())),
            length(seconds(trial.state.lasted()))
        ),
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
        "Own minute volume {own}. Beside it, medians in 41 infants of extremely low birth weight: {} \
         (Vento 2004, J Matern Fetal Neonatal Med). Time under 125 mL/kg a minute: {found}.",
        groups.join(", ")
    )
}

fn shallow(trial: &Trial) -> Option<String> {
    let index = trial.readiness.rapid_shallow(&trial.state)?;
    let beside: Vec<_> = SHALLOW_CUTOFFS
        .iter()
        .map(|cutoff| {
            let side = if cutoff.is_below(&index) { "above" } else { "at or below" };
            format!("{side} {} ({})", cutoff.at, cutoff.source)
        })
        .collect();
    Some(format!(
        "Rapid-shallow index {} breaths/min per mL/kg: {}; both cut-offs are of older children \
         and not checked against the papers.",
        decimals(index.value.value.to_num(), 1),
        beside.join(", ")
    ))
}

/// How many of its breaths were no larger than the dead space.
fn small(summary: &Summary, trial: &Trial) -> Option<String> {
    let weight = summary.settings.weight()?;
    let space = float(anatomical_dead_space(weight, Duration::ZERO).value.to_bits());
    let (from, to) = (trial.from_s, trial.from_s + seconds(trial.state.lasted()));
    let rows = || summary.trusted_between(from, to);
    let all = rows().filter(|row| row.lung_ml.is_some()).count();
    let small = rows().filter(|row| row.lung_ml.is_some_and(|ml| ml < space)).count();
    (all > 0).then(|| {
        format!(
            "{} of its breaths moved less in the lung than the whole anatomical dead space of {} mL \
             (upper airway included, Numa and Newth 1996, J Appl Physiol) and may have ventilated \
             little.",
            percent(small as f64 / all as f64),
            decimals(space, 1)
        )
    })
}
