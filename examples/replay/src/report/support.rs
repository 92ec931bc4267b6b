//! What a support in percent means.

use crate::config::Bedside;
use crate::doc::Doc;
use crate::figures::{LATE, Summary, float};
use crate::spread::quantile;
use crate::text::{decimals, percent};
use tidevane::alarm::BreathKind;
use tidevane::bedside::{Inflation, Percent, RateSplit, Support, SupportShare};
use tidevane::quantity::{Flow, Pressure, Rate};

pub(super) fn write(doc: &mut Doc, summary: &Summary, bedside: &Bedside) {
    doc.section("support", "What does a support of 80 % mean in pressure, and for which breaths?");
    let Some(full) = full(summary) else {
        return doc.say("Not known: no trusted inflation to take it from.");
    };
    let cell = |support: Support| {
        let held = if support.is_left() { "" } else { " (none left)" };
        format!(
            "{}, set {}{held}",
            decimals(float(support.exact.to_bits()), 1),
            decimals(float(support.peak.to_bits()), 1)
        )
    };
    let row = |p: u8| {
        let of_peak =
            SupportShare::OfPeak(Percent::from_percent(p).ok()?).support(&full, bedside.grid);
        let of_rise =
            SupportShare::OfRise(Percent::from_percent(p).ok()?).support(&full, bedside.grid);
        Some(vec![format!("{p} %"), cell(of_peak), cell(of_rise)])
    };
    let rows: Vec<_> = [100, 80, 60, 40, 20].into_iter().filter_map(row).collect();
    doc.say(format!(
        "Two conventions are in use, and which one a machine means stands in its instructions. \
         From a full inflation of {:.1} over {:.1}, on steps of {:.1}:",
        full.peak(),
        full.baseline(),
        bedside.grid.step()
    ));
    doc.table(
        "Where a support ends by either convention",
        &["support", "of the peak: ends at, cmH2O", "of the rise above baseline: ends at, cmH2O"],
        rows,
    );
    if let Some(peak) = summary.settings.machine().support_peak {
        let of_peak = Percent::of_peak(peak, &full).map(|s| percent(s.share().get().to_num()));
        let of_rise = Percent::of_rise(peak, &full).map(|s| percent(s.share().get().to_num()));
        if let (Ok(of_peak), Ok(of_rise)) = (of_peak, of_rise) {
            doc.say(format!(
                "Set now: support to {peak:.1}, which is {of_peak} of the peak or {of_rise} of the rise."
            ));
        }
    }
    receivers(doc, summary);
    tube(doc, summary, &full, bedside);
}

/// Fewer inflations of late do not speak for now: chosen here, no source.
const FEW: usize = 10;

/// The full inflation: as set, else the median of what was seen of late, or of all where that is too little.
pub(crate) fn full(summary: &Summary) -> Option<Inflation> {
    let assured =
        |from: f64| summary.trusted_since(from).filter(|row| row.whose == BreathKind::Assured);
    let late = summary.seconds - LATE;
    let from = if assured(late).nth(FEW - 1).is_some() { late } else { 0.0 };
    let middle = |value: &dyn Fn(crate::row::Row) -> f64| {
        quantile(assured(from).map(value), 0.5).map(|x| Pressure::from_bits((x * 65_536.0) as i32))
    };
    let peak = summary.settings.machine().peak.or(middle(&|row| row.peak))?;
    Inflation::new(peak, middle(&|row| row.baseline)?).ok()
}

/// Which breaths get it, at the rate of the last minutes.
fn receivers(doc: &mut Doc, summary: &Summary) {
    let total = summary.latest.and_then(|t| t.rate());
    let (Some(set), Some(total)) = (summary.settings.machine().set_rate, total) else {
        return doc.say(
            "Which breaths get it: on some settings every breath, on others those beyond the set \
             rate. Without a set rate and some minutes of breathing they cannot be counted.",
        );
    };
    if summary.settings.machine().support_peak.is_none() {
        return doc.say("No support was told, so no breath is counted as getting it.");
    }
    let shared = RateSplit::of(set, total);
    let rate = |rate: Rate| decimals(float(rate.to_bits()), 0);
    doc.say(format!(
        "Which breaths get it: where support is for the breaths beyond the set rate of {}, {} of \
         the {} breaths a minute at the end get the support and {} the full peak; where it is for \
         every breath, none gets the full peak.",
        rate(set),
        rate(shared.supported),
        rate(total),
        rate(shared.full)
    ));
}

/// What the tube alone costs.
fn tube(doc: &mut Doc, summary: &Summary, full: &Inflation, bedside: &Bedside) {
    let Some(tube) = bedside.tube else {
        return doc.say(
            "What the tube alone costs is not known: its size (tube_mm, tube_length_mm) or its \
             measured coefficients (tube_k1, tube_k2) were not given.",
        );
    };
    let free = summary.trusted().filter(|row| row.whose != BreathKind::Assured);
    let Some(flow) = quantile(free.map(|row| row.peak_flow), 0.5) else {
        return doc.say("What the tube alone costs is not known: no own breath was seen.");
    };
    let flow = Flow::from_bits((flow * 65_536.0) as i32);
    let drop = float(tube.drop(flow).value.to_bits());
    let share = |p: u8| {
        let support =
            SupportShare::OfRise(Percent::from_percent(p).ok()?).support(full, bedside.grid);
        let share = support.tube_share(&tube, flow)?.within()?;
        Some(format!("{} of a support of {p} % of the rise", percent(float(share.to_bits()))))
    };
    let eats: Vec<_> = [80, 40].into_iter().filter_map(share).collect();
    let bound = if bedside.tube_is_bound {
        " This is a lower bound from its size (Ito, Blasius): connector and ends add to it."
    } else {
        ""
    };
    doc.say(format!(
        "At the usual peak flow of own and supported breaths, {:.1} L/min, the tube takes {} \
         cmH2O: {}.{bound}",
        flow.to_l_per_min(),
        decimals(drop, 1),
        eats.join(", ")
    ));
}
