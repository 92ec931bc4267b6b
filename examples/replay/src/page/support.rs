//! What a support in percent means in pressure, by either convention.

use super::plot::{Plot, Side};
use crate::config::Bedside;
use crate::figures::Summary;
use crate::report::full_inflation;
use crate::text::decimals;
use maud::{Markup, html};
use tidevane::bedside::{Percent, SupportShare};

pub(super) fn figure(summary: &Summary, bedside: &Bedside) -> Option<Markup> {
    // Without a support the table says enough.
    summary.settings.machine().support_peak?;
    let full = full_inflation(summary)?;
    let number = |p: tidevane::quantity::Pressure| p.get().to_num::<f64>();
    let (base, peak) = (number(full.baseline()), number(full.peak()));
    let percents = [10_u8, 20, 30, 40, 50, 60, 70, 80, 90, 100];
    let of_rise = percents.into_iter().map(|p| {
        let support =
            SupportShare::OfRise(Percent::from_percent(p).ok()?).support(&full, bedside.grid);
        Some((f64::from(p), number(support.exact)))
    });
    let of_peak = percents.into_iter().map(|p| {
        let support =
            SupportShare::OfPeak(Percent::from_percent(p).ok()?).support(&full, bedside.grid);
        Some((f64::from(p), number(support.exact)))
    });
    let mut plot = Plot::new((0.0, 100.0), (0.0, peak * 1.08), 180);
    plot.across_all("published", (0.0, base));
    plot.line("line set", of_rise);
    plot.line("line sup", of_peak);
    plot.text("tick", (2.0, base / 2.0), Side::Left, "below the baseline: no support");
    plot.text(
        "tick",
        (70.0, base + 0.78 * (peak - base)),
        Side::Right,
        "of the rise above baseline",
    );
    plot.text("tick", (62.0, 0.5 * peak), Side::Left, "of the peak");
    if let Some(set) = summary.settings.machine().support_peak {
        plot.level("set-value", number(set));
        plot.text(
            "tick",
            (100.0, number(set) + peak * 0.05),
            Side::Right,
            &format!("set now: to {set:.1}"),
        );
    }
    plot.scale("0", &format!("{} cmH2O", decimals(peak * 1.08, 0)));
    let ticks: Vec<_> = (0..=5).map(|i| (20.0 * f64::from(i), format!("{} %", 20 * i))).collect();
    plot.ticks(&ticks, "support");
    let desc =
        format!("From a full inflation of {} over {} cmH2O", decimals(peak, 1), decimals(base, 1));
    Some(
        html! { figure { (plot.svg("support-percent", "Where a support in percent ends", &desc)) } },
    )
}
