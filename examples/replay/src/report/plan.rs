//! The steps that would come next.

use super::support;
use crate::config::Bedside;
use crate::doc::Doc;
use crate::figures::{Summary, float};
use crate::text::decimals;
use tidevane::alarm::BreathKind;
use tidevane::bedside::{
    Measurements, Percent, Plan, PlanStep, Present, StepSizes, Stopping, SupportShare, WeaningPath,
};
use tidevane::quantity::{Mass, MinuteVolumePerKg, Rate, Share};
use tidevane::trend::Tally;

/// The lower end of the band that minute volume is held in while weaning (Mallya 2017, Neonatal
/// Society abstract): what is needed where nothing else was given.
pub(crate) const NEEDED: MinuteVolumePerKg = MinuteVolumePerKg::from_int(240);
/// And its upper end, in mL/kg.
pub(crate) const MINUTE: f64 = 360.0;
/// So many steps are printed.
const SHOWN: usize = 12;

/// What is set now and the steps from there, with the way that they go; or why they are not known.
pub(crate) fn steps(
    summary: &Summary,
    bedside: &Bedside,
) -> Result<(WeaningPath, Vec<PlanStep>), String> {
    let full = support::full(summary).ok_or("no trusted inflation to start from")?;
    let machine = summary.settings.machine();
    let rate = machine.set_rate.ok_or("no set rate was given (--set-rate)")?;
    let share = machine.support_peak.and_then(|peak| Percent::of_rise(peak, &full).ok());
    let present = Present { rate, inflation: full, support: share.map(SupportShare::OfRise) };
    let way = if share.is_some() { WeaningPath::RateUnderSupport } else { WeaningPath::InTurn };
    let measured = measured(summary, bedside);
    let (stop, sizes) = (Stopping::default(), StepSizes::default());
    let plan = Plan::new(present, way, stop, sizes, bedside.grid, measured);
    let plan = plan.map_err(|error| error.to_string())?;
    Ok((way, std::iter::once(plan.now()).chain(plan.steps()).take(SHOWN + 1).collect()))
}

pub(super) fn write(doc: &mut Doc, summary: &Summary, bedside: &Bedside) {
    doc.section("plan", "Which steps would come next?");
    let (way, steps) = match steps(summary, bedside) {
        Ok(found) => found,
        Err(why) => return doc.say(format!("Not known: {why}.")),
    };
    let name = match way {
        WeaningPath::RateUnderSupport => "the rate down under constant support",
        WeaningPath::InTurn => "rate and pressure in turn",
        WeaningPath::SupportDown => "the share of support down",
    };
    let rows: Vec<_> = steps.iter().map(row).collect();
    if rows.len() == 1 {
        return doc.say(format!(
            "None on this way ({name}): rate and peak stand at or below the settings from which \
             tubes were taken out in 21 trials (median rate 20, peak 16; Giaccone 2014, Arch Dis \
             Child Fetal Neonatal Ed). That is where this table ends, not a reason to take the tube \
             out.{}",
            short_of(summary, bedside)
        ));
    }
    doc.say(format!(
        "By one way, {name}, in the steps that are published (rate 5 to 10 a minute, pressure 1 to 2 \
         cmH2O; Sant'Anna and Keszler 2012, Clin Perinatol), down to the settings from which tubes \
         were taken out in 21 trials (median rate 20, peak 16; Giaccone 2014, Arch Dis Child Fetal \
         Neonatal Ed):"
    ));
    doc.prose_table(
        "Steps by this way",
        &[
            "step",
            "rate /min",
            "peak, cmH2O",
            "support to, cmH2O",
            "set-rate alone, mL/kg/min",
            "by what was measured",
        ],
        rows,
        &[5],
    );
    let needed = bedside.needed.unwrap_or(NEEDED);
    doc.say(format!(
        "Set-rate alone is what the set inflations would still move if the infant did nothing more. A \
         step is carried where that and the infant's own volume of the last minutes reach {} mL/kg \
         a minute{}. A table to think about, not an order.",
        decimals(float(needed.to_bits()), 0),
        if bedside.needed.is_some() {
            ""
        } else {
            " (the lower end of a published weaning band, Mallya 2017; needed_ml_per_kg_min \
             changes it)"
        }
    ));
}

/// Where less is moved than is needed.
fn short_of(summary: &Summary, bedside: &Bedside) -> String {
    let needed = float(bedside.needed.unwrap_or(NEEDED).to_bits());
    let mass = summary.settings.weight().map(Mass::grams);
    let minute = summary.latest.and_then(|t| t.minute_volume());
    let (Some(grams), Some(minute)) = (mass, minute) else { return String::new() };
    let each = float(minute.to_bits()) / f64::from(grams) * 1_000.0;
    if each >= needed {
        return String::new();
    }
    format!(
        " The infant moves {} mL/kg a minute, less than the {} to plan by.",
        decimals(each, 0),
        decimals(needed, 0)
    )
}

/// What a plan goes by, of the last minutes.
pub(crate) fn measured(summary: &Summary, bedside: &Bedside) -> Measurements {
    let minute = |t: Tally, share: Option<Share>| Some(t.minute_volume()?.times(share?).value);
    // Only the set rate is assured: inflations beyond it the infant asked for, or the machine itself.
    let assured = |t: Tally| {
        let (each, rate) = (t.volume(BreathKind::Assured)?, summary.settings.machine().set_rate?);
        let seen = t.a_minute(t.count(BreathKind::Assured))?;
        Some(each.times(Share::new(rate.min(seen).get())).value)
    };
    Measurements {
        own: summary.latest.and_then(|t| minute(t, t.infant_share())),
        assured: summary.latest.and_then(assured),
        mass: summary.settings.weight(),
        needed: Some(bedside.needed.unwrap_or(NEEDED)),
    }
}

fn row(step: &PlanStep) -> Vec<String> {
    let rate = |rate: Rate| decimals(float(rate.to_bits()), 0);
    vec![
        if step.number == 0 { "now".into() } else { step.number.to_string() },
        rate(step.rate),
        decimals(float(step.peak.to_bits()), 1),
        step.support.map_or("-".into(), |s| decimals(float(s.peak.to_bits()), 1)),
        step.assured_per_kg.map_or("-".into(), |v| decimals(float(v.value.to_bits()), 0)),
        step.mark.to_string(),
    ]
}
