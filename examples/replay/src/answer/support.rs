//! What does the support give, and to which breaths?

use super::late;
use super::{Answer, Question, Standing};
use crate::config::Bedside;
use crate::figures::Summary;
use crate::report::full_inflation;
use crate::row::Row;
use crate::spread::quantile;
use crate::text::percent;
use tidevane::alarm::BreathKind;
use tidevane::bedside::Percent;
use tidevane::quantity::Flow;

const QUESTION: Question = Question::Support;
/// More of the support than this lost in the tube is a matter to watch: chosen here, no source.
const EATEN: f64 = 0.5;

pub(super) fn answer(summary: &Summary, bedside: &Bedside) -> Answer {
    let Some(peak) = summary.settings.machine().support_peak else {
        return Answer::unknown(QUESTION, "no support was given");
    };
    let Some(full) = full_inflation(summary) else {
        return Answer::unknown(QUESTION, "no trusted set-rate inflation to hold it against");
    };
    let (Ok(of_rise), Ok(of_peak)) = (Percent::of_rise(peak, &full), Percent::of_peak(peak, &full))
    else {
        return Answer::unknown(QUESTION, "the support given is no part of the peak");
    };
    let word = format!(
        "{} of the full rise, {} of the peak",
        percent(of_rise.share().get().to_num()),
        percent(of_peak.share().get().to_num())
    );
    let supported = |row: &Row| row.whose == BreathKind::Supported;
    let (Some(got), Some(kg)) = (late::lung(summary, BreathKind::Supported), summary.kg()) else {
        let why = format!("{word}; what supported breaths moved is not known of the last 3 min");
        return Answer::unknown(QUESTION, why);
    };
    let eaten = eaten(summary, bedside, f64::from(full.baseline().to_bits()) / 65_536.0);
    let standing = match () {
        () if summary.dead_space_ml().is_some_and(|space| got.median < space) => Standing::Look,
        () if eaten.is_some_and(|share| share > EATEN) => Standing::Watch,
        () => Standing::NoSign,
    };
    let many = late::rows(summary).filter(supported).count();
    let all = late::rows(summary).count();
    let tube = eaten.map_or("the tube's part is not known".into(), |share| {
        format!("the tube takes {} of it or more", percent(share))
    });
    let why = format!("to {peak:.1}, in {many} of {all} breaths of the last 3 min; {tube}");
    Answer::new(QUESTION, standing, word, got.told("mL/kg", kg, 1), why)
}

/// The share of the support that the tube takes at the peak flow of breaths with less than a full inflation.
fn eaten(summary: &Summary, bedside: &Bedside, base: f64) -> Option<f64> {
    let tube = bedside.tube?;
    let free = late::rows(summary).filter(|row| row.whose != BreathKind::Assured);
    let flow = quantile(free.map(|row| row.peak_flow), 0.5)?;
    let drop = tube.drop(Flow::from_bits((flow * 65_536.0) as i32)).value;
    let rise = summary.settings.machine().support_peak?.get().to_num::<f64>() - base;
    (rise > 0.0).then(|| drop.get().to_num::<f64>() / rise)
}
