//! Ten seconds of flow and pressure at chosen moments, each breath named at its onset.

use super::plot::{Plot, Side};
use super::windows::{LONG, Window, Windows};
use crate::figures::Summary;
use crate::row::Row;
use crate::text::decimals;
use maud::{Markup, html};
use tidevane::trigger::Cause;

/// Names that stand nearer than this go one below the other, in seconds.
const NEAR: f64 = 1.6;

/// The chosen moments and the worst stretch of all, in the order of time.
pub(super) fn figures(summary: &Summary, windows: &Windows) -> Markup {
    let mut all: Vec<_> = windows
        .chosen
        .iter()
        .filter_map(|chosen| Some((chosen.title, chosen.window.as_ref()?)))
        .collect();
    if let Some(worst) = worst(summary, windows) {
        all.push(("Most inflations without an effort, or efforts missed", worst));
    }
    all.sort_by(|a, b| a.1.from_s.total_cmp(&b.1.from_s));
    // Of windows that show nearly the same one is enough.
    let mut shown: Vec<(String, &Window)> = Vec::new();
    for (title, window) in all {
        match shown.last_mut().filter(|(_, last)| window.from_s - last.from_s < LONG / 2.0) {
            Some((titles, _)) => *titles += &format!("; {}", lower(title)),
            None => shown.push((title.into(), window)),
        }
    }
    html! {
        p.key-line {
            "Over each breath what began it: effort, the infant; timer; leak or ripple, the machine by itself; own, a \
             breath without inflation; ?, not told; flagged, left out. × an effort that was missed."
        }
        @for (i, (title, window)) in shown.iter().enumerate() {
            figure {
                figcaption { (title) ", from " (summary.wall.exact(window.from_s)) }
                (strip(summary, window, &format!("strip{i}"), title))
            }
        }
    }
}

/// As it goes on after other words.
fn lower(title: &str) -> String {
    let mut letters = title.chars();
    letters.next().map_or(String::new(), |first| first.to_lowercase().chain(letters).collect())
}

/// Flow above, pressure below.
fn strip(summary: &Summary, window: &Window, id: &str, title: &str) -> Markup {
    let time = (window.from_s, window.from_s + LONG);
    let values = |i: usize| window.values(i).filter(|v| !v.is_nan());
    let range =
        |i: usize, least: f64| (values(i).fold(0.0_f64, f64::min), values(i).fold(least, f64::max));
    let line = |i: usize| {
        window.readings().map(move |(at, pair)| (!pair[i].is_nan()).then_some((at, pair[i])))
    };
    let (flows, pressures) = (range(0, 10.0), range(1, 5.0));
    let mut flow = Plot::new(time, flows, 96);
    flow.level("zero", 0.0);
    let breaths = breaths(summary, window);
    for row in &breaths {
        flow.upright("onset", row.onset_s);
    }
    flow.line("wave", line(0));
    flow.scale(&decimals(flows.0, 0), &format!("{} mL/s", decimals(flows.1, 0)));
    let mut pressure = Plot::new(time, pressures, 56);
    pressure.line("wave", line(1));
    pressure.scale(&decimals(pressures.0, 0), &format!("{} cmH2O", decimals(pressures.1, 0)));
    let ticks: Vec<_> =
        (0..=5).map(|i| (time.0 + 2.0 * f64::from(i), format!("{} s", 2 * i))).collect();
    pressure.ticks(&ticks, "");
    let mut names = Plot::new(time, (0.0, 1.0), 28);
    let (mut last, mut lower) = (f64::MIN, false);
    for row in &breaths {
        lower = row.onset_s - last < NEAR && !lower;
        last = row.onset_s;
        let x = 100.0 * (row.onset_s - time.0) / LONG;
        let (x, side) = if x > 93.0 { (100.0, Side::Right) } else { (x, Side::Left) };
        names.words_at(
            &format!("name {}", class(row)),
            x,
            if lower { 24.0 } else { 11.0 },
            side,
            named(row),
        );
    }
    for (at, _) in summary.missed.iter().filter(|(at, _)| window.holds(*at)) {
        flow.text("missed", (*at, flows.1 * 0.8), Side::Middle, "×");
    }
    let told: Vec<_> = breaths
        .iter()
        .map(|row| format!("{} at {:.1} s", named(row), row.onset_s - window.from_s))
        .collect();
    html! {
        .strip {
            (names.svg(&format!("{id}n"), &format!("{title}: breaths"), &told.join(", ")))
            (flow.svg(&format!("{id}f"), &format!("{title}: flow"), "Flow at the sensor, inward up"))
            (pressure.svg(&format!("{id}p"), &format!("{title}: pressure"), "Airway pressure"))
        }
    }
}

/// The breaths that begin in a window.
pub(super) fn breaths(summary: &Summary, window: &Window) -> Vec<Row> {
    summary.rows.since(window.from_s).take_while(|row| window.holds(row.onset_s)).collect()
}

/// What a breath is called over a strip.
pub(super) fn named(row: &Row) -> &'static str {
    match row.cause {
        _ if !row.trusted => "flagged",
        None => "own",
        Some(Cause::Timed) => "timer",
        Some(Cause::Effort) => "effort",
        Some(Cause::SelfLeak) => "leak",
        Some(Cause::SelfRipple) => "ripple",
        Some(Cause::Unknown(_)) => "?",
    }
}

fn class(row: &Row) -> &'static str {
    if row.self_cycled {
        "alert"
    } else {
        match row.cause {
            None => "own",
            Some(_) => "",
        }
    }
}

/// The minute's window with most self-cycled inflations and missed efforts, if there are a few.
fn worst<'a>(summary: &Summary, windows: &'a Windows) -> Option<&'a Window> {
    let bad = |window: &Window| {
        breaths(summary, window).iter().filter(|row| row.self_cycled).count()
            + summary.missed.iter().filter(|(at, _)| window.holds(*at)).count()
    };
    let counts = windows.minutes.iter().map(|window| (bad(window), window));
    counts
        .max_by_key(|(count, _)| *count)
        .filter(|(count, _)| *count >= 2)
        .map(|(_, window)| window)
}
