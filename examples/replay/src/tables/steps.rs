//! One step of weaning as a row of a table.

use super::column::{Cell, Column};
use crate::figures::float;
use crate::steps::Step;
use tidevane::alarm::BreathKind;
use tidevane::quantity::{Mass, Share, Volume};
use tidevane::trend::Tally;

/// What was set, then the last three minutes; the volumes are means of what the lung got.
pub(crate) const COLUMNS: [Column; 18] = [
    Column::count("step"),
    Column::number("from_s", "s", 1),
    Column::number("to_s", "s", 1),
    Column::number("set_rate_per_min", "1/min", 1),
    Column::number("peak_cmH2O", "cmH2O", 1),
    Column::number("support_peak_cmH2O", "cmH2O", 1),
    Column::number("rate_per_min", "1/min", 2),
    Column::number("set_rate_ml", "mL", 3),
    Column::number("supported_ml", "mL", 3),
    Column::number("own_ml", "mL", 3),
    Column::number("minute_ml", "mL/min", 2),
    Column::number("infant_share", "1", 4),
    Column::number("rapid_shallow_per_ml_per_kg", "1/min/(mL/kg)", 2),
    Column::number("missed_per_min", "1/min", 2),
    Column::number("self_cycled_per_min", "1/min", 2),
    Column::number("leak_share", "1", 4),
    Column::text("verdict"),
    Column::number("step_back_s", "s", 1),
];

/// The cells of a step, counted from 1.
pub(crate) fn of(number: usize, step: &Step, weight: Option<Mass>) -> [Cell; COLUMNS.len()] {
    let machine = &step.machine;
    let last = |value: fn(&Tally) -> Option<i32>| {
        Cell::Number(step.last.as_ref().and_then(value).map(float))
    };
    let index = step.last.as_ref().zip(weight);
    let index = index.and_then(|(last, weight)| last.rapid_shallow(weight));
    [
        Cell::Count(number as u64),
        Cell::Number(Some(step.from_s)),
        Cell::Number(Some(step.to_s)),
        Cell::Number(machine.set_rate.map(|rate| float(rate.to_bits()))),
        Cell::Number(machine.peak.map(|peak| float(peak.to_bits()))),
        Cell::Number(machine.support_peak.map(|peak| float(peak.to_bits()))),
        last(|t| t.rate().map(|rate| rate.to_bits())),
        last(|t| t.volume(BreathKind::Assured).map(Volume::to_bits)),
        last(|t| t.volume(BreathKind::Supported).map(Volume::to_bits)),
        last(|t| t.volume(BreathKind::Own).map(Volume::to_bits)),
        last(|t| t.minute_volume().map(Volume::to_bits)),
        last(|t| t.infant_share().map(Share::to_bits)),
        Cell::Number(index.map(|index| index.value.value.to_num())),
        last(|t| t.a_minute(t.missed()).map(|rate| rate.to_bits())),
        last(|t| t.a_minute(t.self_cycled()).map(|rate| rate.to_bits())),
        last(|t| t.leak().map(Share::to_bits)),
        Cell::Text(step.verdicts.last().map_or(String::new(), |(_, v)| v.name().into())),
        Cell::Number(step.asked_back().map(|(at, _)| at)),
    ]
}
