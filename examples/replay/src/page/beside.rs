//! Where this infant stands beside published groups.

use super::plot::{Plot, Side, rounds};
use crate::figures::{Summary, float};
use crate::text::decimals;
use maud::{Markup, html};
use tidevane::bedside::BELOW_THRESHOLD_GROUPS;

pub(super) fn figure(summary: &Summary) -> Option<Markup> {
    let trial = summary.trial.as_ref()?;
    let own = float(trial.readiness.own_per_kg(&trial.state)?.to_bits());
    let groups = BELOW_THRESHOLD_GROUPS.iter();
    let high = groups.clone().map(|g| float(g.high.to_bits())).fold(own, f64::max) * 1.1;
    let last = BELOW_THRESHOLD_GROUPS.len() - 1;
    let rows = groups.enumerate().map(|(i, group)| {
        let [low, median, top] = [group.low, group.median, group.high].map(|v| float(v.to_bits()));
        let mut plot = Plot::new((0.0, high), (0.0, 1.0), 34);
        plot.band("shade ink", (low, top), (0.3, 0.7));
        plot.band("bar set", (median - high / 300.0, median + high / 300.0), (0.15, 0.85));
        plot.upright("set-value", own);
        if i == 0 {
            plot.text(
                "tick",
                (own, 0.95),
                Side::Left,
                &format!(" this infant {}", decimals(own, 0)),
            );
        }
        if i == last {
            let ticks = rounds((0.0, high), 5).into_iter().map(|v| (v, decimals(v, 0)));
            plot.ticks(&ticks.collect::<Vec<_>>(), "own minute volume, mL/kg/min");
        }
        let desc =
            format!("median {}, {} to {}", decimals(median, 0), decimals(low, 0), decimals(top, 0));
        html! {
            .row {
                .label { (group.group) small { (desc) } }
                (plot.svg(&format!("group{i}"), group.group, &desc))
            }
        }
    });
    Some(html! {
        figure {
            @for row in rows { (row) }
            figcaption { "Infants of extremely low birth weight, without the tube afterwards (Vento 2004, J Matern Fetal Neonatal Med); line: this infant." }
        }
    })
}
