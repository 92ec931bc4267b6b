//! What peak pressure each target volume would need, by the inflations of late.

use crate::doc::Doc;
use crate::figures::{Summary, float};
use crate::row::Row;
use crate::spread::quantile;
use crate::text::{decimals, kind_name};
use tidevane::alarm::BreathKind;

/// Inflations of so many seconds are looked back on: chosen here, no source, as the two below.
const BACK: f64 = 3_600.0;
/// Fewer say nothing.
const FEW: usize = 30;
/// A smaller rise of pressure moves too little to reckon from, in cmH2O.
const LEAST: f64 = 1.0;
/// Targets in the table, in mL/kg: usual settings (4 to 6; J Perinatol, doi 10.1038/s41372-018-0228-2) and one and two
/// around them.
const TARGETS: [f64; 6] = [3.0, 4.0, 5.0, 6.0, 7.0, 8.0];
/// Without a weight: multiples of what half of the inflations moved less than.
const TIMES: [f64; 6] = [0.5, 0.75, 1.0, 1.25, 1.5, 1.75];

/// The inflations that targets are tried on.
pub(crate) struct Trial {
    rows: Vec<(Row, f64)>,
    /// The pressure that must not be passed, and what it is.
    pub(crate) bar: Option<(&'static str, f64)>,
}

/// What a target would have needed.
pub(crate) struct Wanted {
    pub(crate) ml: f64,
    /// The peak in cmH2O: a quarter, half and three quarters of inflations need less.
    pub(crate) peak: [f64; 3],
    /// Inflations that need more than the bar, in percent.
    pub(crate) above: Option<f64>,
    /// Inflations that moved less, in percent.
    pub(crate) under: f64,
}

impl Trial {
    /// `None` where too few set-rate inflations have a known volume.
    pub(crate) fn of(summary: &Summary) -> Option<Self> {
        let from = summary.seconds - BACK;
        let rows: Vec<_> = summary
            .trusted_since(from)
            .filter(|row| row.whose == BreathKind::Assured)
            .filter(|row| row.peak - row.baseline >= LEAST)
            .filter_map(|row| Some((row, row.lung_ml.filter(|ml| *ml > 0.0)?)))
            .collect();
        let ceiling = summary.settings.proposal().map(|p| ("the ceiling", p.ceiling()));
        let bar = ceiling.or(summary.settings.machine().peak.map(|peak| ("the set peak", peak)));
        let bar = bar.map(|(name, pressure)| (name, float(pressure.to_bits())));
        (rows.len() >= FEW).then_some(Self { rows, bar })
    }

    pub(crate) fn count(&self) -> usize {
        self.rows.len()
    }

    /// What half of them moved less than, in mL.
    pub(crate) fn median(&self) -> f64 {
        quantile(self.rows.iter().map(|(_, moved)| *moved), 0.5).unwrap_or_default()
    }

    /// In proportion: (target ÷ volume in the lung) × (peak − baseline) above the baseline.
    pub(crate) fn of_target(&self, ml: f64) -> Wanted {
        let needed = || {
            let each = self.rows.iter();
            each.map(|(row, moved)| row.baseline + ml / moved * (row.peak - row.baseline))
        };
        let share = |count: usize| 100.0 * count as f64 / self.rows.len() as f64;
        let at = |share| quantile(needed(), share).unwrap_or_default();
        Wanted {
            ml,
            peak: [0.25, 0.5, 0.75].map(at),
            above: self.bar.map(|(_, bar)| share(needed().filter(|peak| *peak > bar).count())),
            under: share(self.rows.iter().filter(|(_, moved)| *moved < ml).count()),
        }
    }
}

/// The table.
pub(super) fn write(doc: &mut Doc, summary: &Summary) {
    let Some(trial) = Trial::of(summary) else {
        return doc.say(
            "What peak another target volume would need is not known: in the last hour fewer than thirty set-rate \
             inflations had a known volume in the lung.",
        );
    };
    let bar = trial.bar.map(|(name, bar)| format!("above {name} of {}, %", decimals(bar, 1)));
    let columns = ["target, mL/kg", "target, mL", "peak, cmH2O", "middle half from", "to"];
    let kg = summary.kg();
    let mut header: Vec<_> =
        columns.into_iter().skip(usize::from(kg.is_none())).map(String::from).collect();
    header.extend(bar);
    header.push("smaller now, %".into());
    let row = |ml: f64| {
        let wanted = trial.of_target(ml);
        let [low, median, high] = wanted.peak.map(|peak| decimals(peak, 1));
        let mut row: Vec<_> = kg.map(|kg| decimals(ml / kg, 0)).into_iter().collect();
        row.extend([decimals(ml, 1), median, low, high]);
        row.extend(wanted.above.map(|above| decimals(above, 0)));
        row.push(decimals(wanted.under, 0));
        row
    };
    let header: Vec<_> = header.iter().map(String::as_str).collect();
    let targets = kg.map_or_else(
        || TIMES.map(|times| times * trial.median()),
        |kg| TARGETS.map(|per_kg| per_kg * kg),
    );
    doc.table("What peak each target volume would have needed", &header, targets.map(row).into());
    doc.method(format!(
        "Targets on {} {} inflations of the last hour: of each, target over volume in the lung times its rise above \
         the baseline, in proportion. A lung near its limit needs more than that, and the efforts of these inflations \
         are in it: what would have been, by what was, and no order.",
        trial.count(),
        kind_name(BreathKind::Assured)
    ));
}
