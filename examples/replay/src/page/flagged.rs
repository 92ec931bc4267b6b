//! When breaths were flagged, a row for each reason.

use super::lanes;
use super::plot::Plot;
use super::series::Bins;
use crate::figures::Summary;
use crate::text::{many, percent};
use maud::{Markup, html};
use std::collections::BTreeSet;

pub(super) fn figure(summary: &Summary) -> Option<Markup> {
    let reasons: BTreeSet<_> = summary.rows.iter().flat_map(|row| row.flags.names()).collect();
    let bins = Bins::of(summary.seconds);
    let last = reasons.last().copied()?;
    let row = |(i, reason): (usize, &str)| {
        let is = |row: &crate::row::Row| row.flags.names().any(|name| name == reason);
        let all = || summary.rows.iter().map(|row| (row.onset_s, f64::from(u8::from(is(&row)))));
        let count = all().filter(|(_, flagged)| *flagged > 0.0).count();
        let shares = bins.gather(all(), |v| {
            (!v.is_empty())
                .then(|| v.iter().sum::<f64>() / v.len() as f64)
                .filter(|share| *share > 0.0)
        });
        let mut plot = Plot::new((0.0, summary.seconds), (0.0, 1.0), 26);
        plot.level("zero", 0.0);
        lanes::borders(&mut plot, summary);
        for (bin, share) in shares.iter().enumerate().filter_map(|(i, share)| Some((i, (*share)?)))
        {
            let from = bins.each * bin as f64;
            // A few of many are seen, too.
            plot.band("quiet", (from, from + bins.each), (0.0, share.max(0.15)));
        }
        if reason == last {
            plot.ticks(&summary.wall.ticks(), &summary.wall.name());
        }
        let most = shares.iter().flatten().copied().fold(0.0, f64::max);
        let desc =
            format!("{}, at most {} at a time", many(count, "breath", "breaths"), percent(most));
        html! {
            .row {
                .label { (reason) small { (many(count, "breath", "breaths")) } }
                (plot.svg(&format!("flag{i}"), &format!("Breaths flagged {reason}"), &desc))
            }
        }
    };
    Some(html! {
        figure {
            @for each in reasons.iter().copied().enumerate() { (row(each)) }
            figcaption {
                "Breaths that are flagged, by why: a full bar is every breath of its time, and none is drawn lower \
                 than a seventh. They are left out of all figures."
            }
        }
    })
}
