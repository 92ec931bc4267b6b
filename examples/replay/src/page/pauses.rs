//! How long each pause was, over time.

use super::plot::{Plot, Side};
use super::series::Bins;
use super::{derived, lanes};
use crate::figures::{Summary, is_begun_by_infant};
use crate::report::pauses::{PAUSES, intervals};
use crate::row::Row;
use crate::text::{decimals, many};
use maud::{Markup, html};

/// The axis goes up to the longest pause, but no lower than this and no higher than that, in seconds.
const HIGH: (f64, f64) = (25.0, 120.0);
/// Where more of the inflations are set off by the machine itself, in percent, efforts are hidden and pauses look longer
/// than they are: chosen here, no source.
const HIDDEN: f64 = 10.0;
/// So many pauses are drawn: the longest.
const MOST: usize = 2_000;

pub(super) fn figure(summary: &Summary) -> Option<Markup> {
    // Where the infant was never seen to begin a breath, a figure of its pauses would show none.
    summary.rows.iter().find(is_begun_by_infant)?;
    let is_one = |row: &Row| !summary.is_hardly_one(row);
    let pauses = intervals(summary.rows.iter().filter(is_one), is_begun_by_infant);
    let mut pauses: Vec<_> = pauses.filter(|pause| pause.long_s >= PAUSES[0]).collect();
    pauses.sort_by(|a, b| b.long_s.total_cmp(&a.long_s));
    let longest = pauses.first().map_or(0.0, |pause| pause.long_s);
    let high = (longest * 1.1).clamp(HIGH.0, HIGH.1);
    let mut plot = Plot::new((0.0, summary.seconds), (0.0, high), 120);
    let bins = Bins::of(summary.seconds);
    let cycled = derived::cycled(summary, bins);
    let is_hidden = |share: &Option<[f64; 3]>| share.is_some_and(|share| share[1] > HIDDEN);
    for (i, _) in cycled.iter().enumerate().filter(|(_, share)| is_hidden(share)) {
        let from = bins.each * i as f64;
        plot.band("doubt", (from, from + bins.each), (0.0, high));
    }
    lanes::borders(&mut plot, summary);
    for long in PAUSES {
        plot.level("zero", long);
        plot.text("tick", (summary.seconds, long), Side::Right, &format!("{long:.0} s"));
    }
    for pause in pauses.iter().take(MOST) {
        plot.line("wave", [0.0, pause.long_s].map(|y| Some((pause.from_s, y))));
        if pause.long_s >= PAUSES[2] {
            plot.text("missed", (pause.from_s, pause.long_s.min(high * 0.9)), Side::Middle, "×");
        }
    }
    plot.words_at("tick", 0.0, 10.0, Side::Left, &format!("{} s", decimals(high, 0)));
    plot.ticks(&summary.wall.ticks(), &summary.wall.name());
    let count = |long: f64| pauses.iter().filter(|pause| pause.long_s >= long).count();
    let told = PAUSES
        .map(|long| format!("{} of {long:.0} s and more", many(count(long), "pause", "pauses")));
    let desc = if pauses.is_empty() { "no pause of 5 s or more".into() } else { told.join(", ") };
    Some(html! {
        figure {
            (plot.svg("pauses", "Pauses over time", &desc))
            figcaption {
                "From one breath that the infant began to the next, where that was 5 s and more: as high as it was \
                 long, × from 20 s on. Here: " (desc) ". Hatched: the machine set itself off, which hides efforts: pauses look \
                 longer than they are."
                @if longest > HIGH.1 { " The longest, " (decimals(longest, 0)) " s, is cut at the axis." }
                @if pauses.len() > MOST { " The longest " (MOST) " are drawn." }
            }
        }
    })
}
