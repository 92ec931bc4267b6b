//! Quantities over time that no single breath tells: shares of a bin, ranges, and what another monitor told.

use super::multiples::{Curve, Line};
use super::series::Bins;
use crate::config::Setup;
use crate::figures::Summary;

/// What of the dead space lies within the chest, below a tube, in mL/kg (Numa and Newth 1996, J Appl Physiol).
pub(super) const BELOW_TUBE: f64 = 1.03;

/// The share of each bin's inflations that the machine started by itself.
pub(super) fn cycled(summary: &Summary, bins: Bins) -> Vec<Option<[f64; 3]>> {
    let inflations = summary.trusted().filter(|row| row.cause.is_some());
    let shares = inflations.map(|row| (row.onset_s, if row.self_cycled { 100.0 } else { 0.0 }));
    bins.gather(shares, mean)
}

/// The mean volume in the lung times the rate of each bin, per kilogram where that is known.
pub(super) fn minute_volume(summary: &Summary, bins: Bins, each: f64) -> Vec<Option<[f64; 3]>> {
    let minutes = |row: crate::row::Row| Some((row.onset_s, row.lung_ml? * row.rate? / each));
    bins.gather(summary.trusted().filter_map(minutes), mean)
}

fn mean(values: Vec<f64>) -> Option<[f64; 3]> {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    (values.len() >= 3).then_some([mean; 3])
}

/// Minute volume less the dead space of as many breaths: the lower end with all of it, the upper with its part below
/// a tube.
pub(super) fn alveolar(summary: &Summary, bins: Bins, kg: f64) -> Option<Curve> {
    let whole = summary.dead_space_ml()? / kg;
    let less = |space: f64| {
        let beyond = summary
            .trusted()
            .filter_map(|row| Some((row.onset_s, (row.lung_ml? / kg - space) * row.rate?)));
        bins.gather(beyond, mean)
    };
    let ends = less(whole).into_iter().zip(less(BELOW_TUBE));
    let bins = ends.map(|(low, high)| {
        let (low, high) = (low?[1].max(0.0), high?[1].max(0.0));
        Some([low, f64::midpoint(low, high), high])
    });
    Some(Curve { name: "alveolar part", class: "own", bins: bins.collect() })
}

/// What another monitor told, and the index that needs it.
pub(super) fn signs(summary: &Summary, setup: &Setup, bins: Bins) -> Vec<Line> {
    let told = |value: &dyn Fn(&tidevane::alarm::VitalSigns) -> Option<f64>| {
        let mut told = summary.signs_at.iter().peekable();
        let mut now = None;
        // The lowest of each bin: a fall that lasts seconds must not drown in minutes.
        let of_bin = |bin: usize| {
            let mut lowest: Option<f64> = now;
            while let Some((_, signs)) =
                told.next_if(|(at, _)| *at < (bin as f64 + 1.0) * bins.each)
            {
                now = value(signs);
                lowest = lowest.into_iter().chain(now).reduce(f64::min);
            }
            lowest.map(|v| [v; 3])
        };
        (0..bins.count).map(of_bin).collect::<Vec<_>>()
    };
    let line = |title, unit: &str, places, bins, floor, least| Line {
        title,
        unit: unit.into(),
        places,
        curves: vec![Curve { name: "", class: "ink", bins }],
        band: None,
        floor,
        least,
    };
    let saturation = told(&|signs| signs.saturation.map(f64::from));
    let mut lines = vec![
        line("Heart rate", "/min", 0, told(&|signs| signs.heart_rate.map(f64::from)), 60.0, 180.0),
        line("Saturation", "%", 0, saturation.clone(), 70.0, 100.0),
    ];
    if let Some(oxygen) = setup.bedside.oxygen {
        let oxygen: f64 = oxygen.get().to_num();
        let rows = summary.trusted().filter_map(|row| Some((row.onset_s, row.mean_pressure?)));
        let mean = bins.spread(rows);
        let index =
            mean.iter().zip(&saturation).map(|(mean, saturation)| {
                Some(mean.as_ref()?.map(|mean| {
                    100.0 * oxygen * mean / saturation.as_ref().map_or(f64::NAN, |s| s[1])
                }))
                .filter(|index| index[1].is_finite())
            });
        let title = "Oxygen saturation index";
        lines.push(line(
            title,
            "100 × oxygen × mean pressure / saturation",
            1,
            index.collect(),
            0.0,
            5.0,
        ));
    }
    lines
}
