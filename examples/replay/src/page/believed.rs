//! Can a displayed volume be believed: what came back at the sensor beside what the lung got, with the leak.

use super::plot::{Plot, Side, swatch};
use super::series::Bins;
use crate::figures::Summary;
use crate::report::belief;
use crate::row::Row;
use crate::text::decimals;
use maud::{Markup, html};
use tidevane::breath::Kind;
use tidevane::leak::VolumeCredibility;

pub(super) fn figure(summary: &Summary) -> Markup {
    let bins = Bins::of(summary.seconds);
    let kg = summary.kg();
    let (each, unit) = kg.map_or((1.0, "mL"), |kg| (kg, "mL/kg"));
    let of = |value: &dyn Fn(&Row) -> Option<f64>| {
        let rows = summary.of_kind(Kind::Inflation);
        bins.spread(rows.filter_map(|row| Some((row.onset_s, value(&row)?))))
    };
    let displayed = of(&|row| Some(row.expired_ml / each));
    let lung = of(&|row| row.lung_ml.map(|ml| ml / each));
    let leak = of(&|row| row.leak_window);
    if lung.iter().all(Option::is_none) {
        return html! { p.none { "Not known: the volume in the lung." } };
    }
    let medians = displayed.iter().chain(&lung).flatten().map(|b| b[1]);
    let high = medians.fold(1.0, f64::max) * 1.1;
    let mut plot = Plot::new((0.0, summary.seconds), (0.0, high), 120);
    for (i, _) in leak
        .iter()
        .enumerate()
        .filter(|(_, bin)| bin.is_some_and(|b| belief(b[1]) != VolumeCredibility::Usable))
    {
        let from = bins.each * i as f64;
        plot.band("doubt", (from, from + bins.each), (0.0, high));
    }
    let at = |i: usize| bins.middle(i).min(summary.seconds);
    for (class, values) in [("sup", &displayed), ("set", &lung)] {
        let line = values.iter().enumerate().map(|(i, b)| b.map(|b| (at(i), b[1])));
        plot.line(&format!("line {class}"), line);
    }
    plot.scale("0", &format!("{} {unit}", decimals(high, 0)));
    plot.ticks(&summary.wall.ticks(), &summary.wall.name());
    plot.words_at("tick", 100.0, 10.0, Side::Right, "hatched: leak above 40 %");
    html! {
        figure {
            (plot.svg("believed", "Displayed volume beside the volume in the lung", "Medians of inflations over time"))
            figcaption {
                (swatch("sup")) " what had come back at the sensor by the end of the breath, " (swatch("set"))
                " in the lung, the leak taken off: medians of inflations. Where the lines part, the display misleads."
            }
        }
    }
}
