//! Inspiratory and expiratory time against the time constant: is the lung filled, does it empty?

use super::plot::{Plot, Side, rounds};
use crate::figures::Summary;
use crate::row::Row;
use crate::spread::quantile;
use crate::text::{decimals, percent};
use maud::{Markup, html};
use tidevane::breath::Kind;

/// Of a time constant that many empty or fill a lung: what is left then is 5 % (e^-3).
const CONSTANTS: f64 = 3.0;

/// The lowest tenth, the median and the highest tenth.
fn spread(values: impl Iterator<Item = f64> + Clone) -> Option<[f64; 3]> {
    let at = |share| quantile(values.clone(), share);
    Some([at(0.1)?, at(0.5)?, at(0.9)?])
}

pub(super) fn figure(summary: &Summary) -> Markup {
    let from = summary.seconds - 3_600.0;
    let late = |row: &Row| row.kind == Kind::Inflation;
    let rows = || summary.trusted_since(from).filter(late);
    let tau = quantile(rows().filter_map(|row| Some(row.mechanics?[2])), 0.5)
        .or_else(|| quantile(summary.trusted().filter_map(|row| Some(row.mechanics?[2])), 0.5));
    let (Some(tau), Some(insp), Some(exp)) =
        (tau, spread(rows().map(|row| row.insp_s)), spread(rows().map(|row| row.exp_s)))
    else {
        return html! { p.none { "Not known: no time constant, or no inflation in the last hour." } };
    };
    let most = exp[2].max(insp[2]).max(CONSTANTS * tau) * 1.1;
    let left = |time: f64| (-time / tau).exp();
    // A periodic passive lung keeps back (1 - a) b / (1 - a b) of the volume that its pressure could move (textbook).
    let (a, b) = (left(insp[1]), left(exp[1]));
    let kept = (1.0 - a) * b / (1.0 - a * b);
    let draw = |id: &str, name: &str, times: [f64; 3], is_last: bool| {
        let mut plot = Plot::new((0.0, most), (0.0, 1.0), 34);
        plot.band("shade ink", (times[0], times[2]), (0.3, 0.7));
        plot.band("bar set", (times[1] - most / 300.0, times[1] + most / 300.0), (0.15, 0.85));
        plot.upright("set-value", CONSTANTS * tau);
        if is_last {
            let ticks = rounds((0.0, most), 6).into_iter().map(|v| (v, decimals(v, 1)));
            plot.ticks(&ticks.collect::<Vec<_>>(), "seconds");
        } else {
            plot.words_at(
                "tick",
                100.0 * CONSTANTS * tau / most + 0.6,
                10.0,
                Side::Left,
                "3 time constants",
            );
        }
        let told = times.map(|t| decimals(t, 2));
        plot.svg(id, name, &format!("{} s, middle 80 % {} to {}", told[1], told[0], told[2]))
    };
    html! {
        figure {
            .row { .label { "Inspiration" small { (decimals(insp[1], 2)) " s" } } (draw("ti", "Inspiratory time", insp, false)) }
            .row { .label { "Expiration" small { (decimals(exp[1], 2)) " s" } } (draw("te", "Expiratory time", exp, true)) }
            figcaption {
                "Inflations of the last hour: median, and the middle 80 % in shade. Time constant "
                (decimals(tau, 3)) " s, from passive breaths, the last at " (summary.clock(summary.last_passive_s().unwrap_or_default())) ". By it " (percent(a)) " of the first flow is left at the end of inspiration, and "
                (percent(kept)) " of the volume that the pressure could move stays in the lung at the end of expiration \
                 (passive, one compartment, textbook)."
            }
        }
    }
}
