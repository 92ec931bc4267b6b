//! The recording on one axis of time: a row for each quantity, steps marked through all of them.

use super::plot::{Plot, kind_class, rounds, swatch};
use super::series::Bins;
use super::{derived, lanes};
use crate::config::Setup;
use crate::figures::Summary;
use crate::report::{MINUTE, NEEDED};
use crate::row::Row;
use crate::text::{KINDS, decimals, kind_name};
use maud::{Markup, html};
use tidevane::alarm::BreathKind;

/// How high a row is.
const HIGH: u32 = 58;

/// A curve of a row.
pub(super) struct Curve {
    /// What it is called where a row has several.
    pub(super) name: &'static str,
    pub(super) class: &'static str,
    pub(super) bins: Vec<Option<[f64; 3]>>,
}

impl Curve {
    /// Whether a key has to tell it from others.
    fn is_named(&self) -> bool {
        !self.name.is_empty() && self.bins.iter().any(Option::is_some)
    }
}

/// A quantity over time.
pub(super) struct Line {
    pub(super) title: &'static str,
    pub(super) unit: String,
    pub(super) places: usize,
    pub(super) curves: Vec<Curve>,
    /// Published, or where a displayed volume stops being usable.
    pub(super) band: Option<(&'static str, f64, f64)>,
    pub(super) floor: f64,
    pub(super) least: f64,
}

/// What the figure is made of.
pub(super) struct Multiples {
    pub(super) bins: Bins,
    pub(super) lines: Vec<Line>,
}

impl Multiples {
    pub(super) fn new(summary: &Summary, setup: &Setup) -> Self {
        let bins = Bins::of(summary.seconds);
        let kg = summary.kg();
        let (each, unit) = kg.map_or((1.0, "mL"), |kg| (kg, "mL/kg"));
        let of = |value: &dyn Fn(&Row) -> Option<f64>| {
            bins.spread(summary.trusted().filter_map(|row| Some((row.onset_s, value(&row)?))))
        };
        let one = |bins| vec![Curve { name: "", class: "ink", bins }];
        let kind = |kind: BreathKind, class| Curve {
            name: kind_name(kind),
            class,
            bins: of(&|row| row.lung_ml.filter(|_| row.whose == kind).map(|ml| ml / each)),
        };
        let line = |title, unit: &str, places, curves, least| Line {
            title,
            unit: unit.into(),
            places,
            curves,
            band: None,
            floor: 0.0,
            least,
        };
        let mut lines = vec![
            Line {
                band: kg.map(|_| ("published", 4.0, 6.0)),
                ..line(
                    "Volume in the lung",
                    unit,
                    1,
                    KINDS.map(|of| kind(of, kind_class(of))).into(),
                    if kg.is_some() { 8.0 } else { 1.0 },
                )
            },
            Line {
                band: kg.map(|_| ("published", NEEDED.get().to_num(), MINUTE)),
                ..line(
                    "Minute volume in the lung",
                    &format!("{unit}/min"),
                    0,
                    one(derived::minute_volume(summary, bins, each)),
                    1.0,
                )
            },
            line("Rate", "/min", 0, one(of(&|row| row.rate)), 40.0),
            Line {
                band: Some(("doubt", 40.0, 1e6)),
                ..line(
                    "Leak",
                    "%",
                    0,
                    one(of(&|row| row.leak_window.map(|share| 100.0 * share))),
                    50.0,
                )
            },
            line(
                "Set off by itself",
                "% of inflations",
                0,
                one(derived::cycled(summary, bins)),
                20.0,
            ),
            line("Compliance", "mL/cmH2O", 2, one(of(&|row| row.mechanics.map(|m| m[0]))), 0.1),
            line("Resistance", "cmH2O·s/L", 0, one(of(&|row| row.mechanics.map(|m| m[1]))), 50.0),
            line("Mean airway pressure", "cmH2O", 1, one(of(&|row| row.mean_pressure)), 10.0),
        ];
        if let Some(kg) = kg {
            let shallow = of(&|row| {
                row.rate
                    .zip(row.lung_ml)
                    .map(|(rate, ml)| rate / (ml / kg))
                    .filter(|i| i.is_finite() && *i > 0.0)
            });
            lines.insert(3, line("Rapid-shallow index", "/min per mL/kg", 1, one(shallow), 10.0));
            if let Some(alveolar) = derived::alveolar(summary, bins, kg) {
                lines[1].curves.push(alveolar);
            }
        }
        lines.extend(derived::signs(summary, setup, bins));
        lines.retain(|line| line.curves.iter().any(|curve| curve.bins.iter().any(Option::is_some)));
        Self { bins, lines }
    }

    /// All rows, the axis of time at their foot.
    pub(super) fn figure(&self, summary: &Summary) -> Markup {
        let axis = summary.wall.name();
        let mut foot = Plot::new((0.0, summary.seconds), (0.0, 1.0), 1);
        foot.ticks(&summary.wall.ticks(), &axis);
        html! {
            figure.time {
                .row { .label { "Step" small { "number" } } (lanes::steps(summary)) }
                .row { .label { "Load" small { "what was made of it" } } (lanes::load(summary)) }
                @for (i, line) in self.lines.iter().enumerate() {
                    .row {
                        .label {
                            (line.title) small { (line.unit) }
                            @for curve in line.curves.iter().filter(|curve| curve.is_named()) {
                                span.key { (swatch(curve.class)) (curve.name) }
                            }
                        }
                        (self.row(i, line, summary))
                    }
                }
                .row { .label {} (foot.svg("axis", "Time", &axis)) }
                figcaption {
                    "Load: a full bar asks for a step back, half a bar to hold, a line shows no sign, nothing is not \
                     known. Curves: medians of each " (self.each()) " with the middle 80 % of the breaths in shade; a \
                     gap where fewer than three told. Minute volume: the mean of what the lung got times the rate. \
                     Bands: 4 to 6 mL/kg (usual settings, J Perinatol, doi 10.1038/s41372-018-0228-2); 240 to 360 \
                     mL/kg a minute (held while weaning, Mallya 2017, abstract); hatched: a leak above 40 %. The \
                     alveolar part is what is left of the minute volume without the dead space: a range, between the \
                     whole anatomical one and what of it lies below a tube (3.28 and 1.03 mL/kg, Numa and Newth 1996); \
                     sensor and connector take more. Heart rate and saturation: the lowest of each, as told. The oxygen saturation index, with the \
                     oxygen told at the start: 100 × oxygen × mean airway pressure / saturation (textbooks; no \
                     cut-off is drawn)."
                }
            }
        }
    }

    fn each(&self) -> String {
        if self.bins.each < 60.0 {
            format!("{:.0} s", self.bins.each)
        } else {
            format!("{:.0} min", self.bins.each / 60.0)
        }
    }

    fn row(&self, number: usize, line: &Line, summary: &Summary) -> Markup {
        let all = || line.curves.iter().flat_map(|curve| curve.bins.iter().flatten());
        let high = round_up(all().map(|b| b[2]).fold(line.least, f64::max));
        let low = all().map(|b| b[0]).fold(line.floor, f64::min);
        let mut plot = Plot::new((0.0, summary.seconds), (low, high), HIGH);
        plot.level("zero", low);
        if let Some((class, from, to)) = line.band {
            plot.across_all(class, (from.min(high), to.min(high)));
        }
        lanes::borders(&mut plot, summary);
        for curve in &line.curves {
            let at = |i: usize| self.bins.middle(i).min(summary.seconds);
            let class = |of: &str| format!("{of} {}", curve.class);
            let bins = || curve.bins.iter().enumerate();
            plot.area(&class("shade"), bins().map(|(i, b)| b.map(|b| [at(i), b[0], b[2]])));
            plot.line(&class("line"), bins().map(|(i, b)| b.map(|b| (at(i), b[1]))));
        }
        plot.scale(&decimals(low, 0), &decimals(high, if high < 2.0 { 1 } else { 0 }));
        let medians: Vec<_> = all().map(|b| b[1]).collect();
        let ends = (
            medians.iter().copied().fold(f64::MAX, f64::min),
            medians.iter().copied().fold(f64::MIN, f64::max),
        );
        let desc = format!(
            "Medians from {} to {} {}",
            decimals(ends.0, line.places),
            decimals(ends.1, line.places),
            line.unit
        );
        plot.svg(&format!("row{number}"), line.title, &desc)
    }
}

/// The next round number.
fn round_up(value: f64) -> f64 {
    let step = rounds((0.0, value), 10).get(1).copied().unwrap_or(1.0);
    (value / step).ceil() * step
}
