//! A figure that keeps its height and fills any width: curves stretch, words and marks do not.
//!
//! What stretches is drawn in a box of 1,000 by the height; what must not stands at a percentage of the width. No plotting
//! library does that: each draws to one size, whose words are unreadable on a phone. The chart (`--chart`), of one size, is
//! drawn by `plotters`.

use maud::{Markup, PreEscaped, html};
use std::fmt::Write as _;
use tidevane::alarm::BreathKind;

/// How wide the stretched box is.
const WIDE: f64 = 1_000.0;
/// Where a text stands from its point.
#[derive(Clone, Copy)]
pub(super) enum Side {
    Left,
    Middle,
    Right,
}

/// A figure under way.
pub(super) struct Plot {
    x: (f64, f64),
    y: (f64, f64),
    height: f64,
    foot: f64,
    curves: String,
    words: String,
}

impl Plot {
    /// Of a range of values either way.
    pub(super) fn new(x: (f64, f64), y: (f64, f64), height: u32) -> Self {
        let wider = |(low, high): (f64, f64)| (low, if high > low { high } else { low + 1.0 });
        Self {
            x: wider(x),
            y: wider(y),
            height: height.into(),
            foot: 0.0,
            curves: String::new(),
            words: String::new(),
        }
    }

    fn share(&self, x: f64) -> f64 {
        ((x - self.x.0) / (self.x.1 - self.x.0)).clamp(0.0, 1.0)
    }

    fn across(&self, x: f64) -> f64 {
        WIDE * self.share(x)
    }

    fn percent(&self, x: f64) -> f64 {
        100.0 * self.share(x)
    }

    /// From the top.
    fn down(&self, y: f64) -> f64 {
        self.height * (1.0 - ((y - self.y.0) / (self.y.1 - self.y.0)).clamp(0.0, 1.0))
    }

    fn points(&self, points: impl IntoIterator<Item = (f64, f64)>) -> String {
        let mut path = String::new();
        for (x, y) in points {
            let first = if path.is_empty() { "M" } else { "L" };
            let _ = write!(path, "{first}{:.1} {:.1}", self.across(x), self.down(y));
        }
        path
    }

    /// A line through points; a gap where there is none.
    pub(super) fn line(
        &mut self,
        class: &str,
        points: impl IntoIterator<Item = Option<(f64, f64)>>,
    ) {
        let points: Vec<_> = points.into_iter().collect();
        for run in points.split(Option::is_none) {
            let path = self.points(run.iter().flatten().copied());
            if run.len() == 1 {
                // A single point is still seen.
                let _ = write!(self.curves, r#"<path class="{class}" d="{path}h1"/>"#);
            } else if !run.is_empty() {
                let _ = write!(self.curves, r#"<path class="{class}" d="{path}"/>"#);
            }
        }
    }

    /// What lies between two lines, given as x, lower and upper; a gap where there is none.
    pub(super) fn area(&mut self, class: &str, points: impl IntoIterator<Item = Option<[f64; 3]>>) {
        let points: Vec<_> = points.into_iter().collect();
        for run in points.split(Option::is_none).filter(|run| !run.is_empty()) {
            let run = || run.iter().flatten();
            let around = run().map(|p| (p[0], p[2])).chain(run().rev().map(|p| (p[0], p[1])));
            let _ = write!(self.curves, r#"<path class="{class}" d="{}z"/>"#, self.points(around));
        }
    }

    /// A box between two values either way.
    pub(super) fn band(&mut self, class: &str, x: (f64, f64), y: (f64, f64)) {
        let (left, top) = (self.across(x.0), self.down(y.1));
        let (wide, high) = (self.across(x.1) - left, self.down(y.0) - top);
        let _ = write!(
            self.curves,
            r#"<rect class="{class}" x="{left:.1}" y="{top:.1}" width="{wide:.1}" height="{high:.1}"/>"#
        );
    }

    /// Over the whole width.
    pub(super) fn across_all(&mut self, class: &str, y: (f64, f64)) {
        self.band(class, self.x, y);
    }

    /// Upright through the whole height.
    pub(super) fn upright(&mut self, class: &str, x: f64) {
        let at = self.percent(x);
        let _ = write!(
            self.words,
            r#"<line class="{class}" x1="{at:.2}%" x2="{at:.2}%" y1="0" y2="{:.0}"/>"#,
            self.height
        );
    }

    /// Level over the whole width.
    pub(super) fn level(&mut self, class: &str, y: f64) {
        let down = self.down(y);
        let _ = write!(
            self.words,
            r#"<line class="{class}" x1="0" x2="100%" y1="{down:.1}" y2="{down:.1}"/>"#
        );
    }

    /// Words at a point, half as high.
    pub(super) fn text(&mut self, class: &str, at: (f64, f64), side: Side, words: &str) {
        self.words_at(class, self.percent(at.0), self.down(at.1) + 4.0, side, words);
    }

    /// Words at a share of the width in percent, and so far from the top.
    pub(super) fn words_at(
        &mut self,
        class: &str,
        percent: f64,
        down: f64,
        side: Side,
        words: &str,
    ) {
        let anchor = match side {
            Side::Left => "start",
            Side::Middle => "middle",
            Side::Right => "end",
        };
        let text = html! {
            text class=(class) x={ (format!("{percent:.2}%")) } y=(format!("{down:.1}")) text-anchor=(anchor) {
                (words)
            }
        };
        self.words += &text.into_string();
    }

    /// Lowest and highest at the left.
    pub(super) fn scale(&mut self, low: &str, high: &str) {
        self.words_at("tick", 0.0, 10.0, Side::Left, high);
        let foot = self.height - 3.0;
        self.words_at("tick", 0.0, foot, Side::Left, low);
    }

    /// Ticks under the figure, with what they count.
    pub(super) fn ticks(&mut self, ticks: &[(f64, String)], name: &str) {
        self.foot = if name.is_empty() { 16.0 } else { 32.0 };
        let last = ticks.len().saturating_sub(1);
        for (i, (x, words)) in ticks.iter().enumerate() {
            let at = self.percent(*x);
            let side = match i {
                0 if at < 4.0 => Side::Left,
                i if i == last && at > 96.0 => Side::Right,
                _ => Side::Middle,
            };
            self.words_at("tick", at, self.height + 13.0, side, words);
        }
        if !name.is_empty() {
            self.words_at("tick name", 100.0, self.height + 29.0, Side::Right, name);
        }
    }

    /// The figure, with what it shows in words for who cannot see it.
    pub(super) fn svg(&self, id: &str, title: &str, desc: &str) -> Markup {
        let (all, id) = (self.height + self.foot, format!("p-{id}"));
        html! {
            svg.plot id=(id) role="img" aria-labelledby={ (id) "-t" } aria-describedby={ (id) "-d" } width="100%"
                height=(format!("{all:.0}")) {
                title id={ (id) "-t" } { (title) }
                desc id={ (id) "-d" } { (desc) }
                svg viewBox={ "0 0 1000 " (self.height) } width="100%" height=(self.height) preserveAspectRatio="none" {
                    (PreEscaped(&self.curves))
                }
                (PreEscaped(&self.words))
            }
        }
    }
}

/// A stroke as the curves of a class have it, to stand beside their name.
pub(super) fn swatch(class: &str) -> Markup {
    html! {
        svg.plot.swatch width="24" height="8" aria-hidden="true" { path class={ "line " (class) } d="M0 4H24" {} }
    }
}

/// The stroke and fill of a kind of breath.
pub(super) const fn kind_class(kind: BreathKind) -> &'static str {
    match kind {
        BreathKind::Assured => "set",
        BreathKind::Supported => "sup",
        BreathKind::Own => "own",
    }
}

/// Round steps over a range: no more than so many.
pub(super) fn rounds((low, high): (f64, f64), most: usize) -> Vec<f64> {
    let rough = (high - low).max(f64::MIN_POSITIVE) / most.max(1) as f64;
    let power = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].map(|m| m * power).into_iter().find(|s| *s >= rough);
    let step = step.unwrap_or(10.0 * power);
    let first = (low / step).ceil() as i64;
    (0..=most as i64)
        .map(|i| (first + i) as f64 * step)
        .take_while(|x| *x <= high + step * 1e-9)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_point_stands_where_it_is_computed_to_stand() {
        // 25 of 0 to 100 is a quarter of the width: 250 of 1,000; 3 of 0 to 4 is a quarter from the top: 20 of 80.
        let mut plot = Plot::new((0.0, 100.0), (0.0, 4.0), 80);
        plot.line("a", [Some((25.0, 3.0)), Some((75.0, 1.0)), None, Some((100.0, 4.0))]);
        let svg = plot.svg("p", "t", "d").into_string();
        assert!(
            svg.contains(r#"d="M250.0 20.0L750.0 60.0""#) && svg.contains(r#"d="M1000.0 0.0h1""#),
            "{svg}"
        );
    }

    #[test]
    fn ticks_are_round() {
        // 0 to 47 in at most six: steps of 10.
        assert_eq!(rounds((0.0, 47.0), 6), [0.0, 10.0, 20.0, 30.0, 40.0]);
    }

    #[test]
    fn words_from_outside_are_no_markup() {
        let mut plot = Plot::new((0.0, 1.0), (0.0, 1.0), 10);
        plot.text("t", (0.0, 0.0), Side::Left, "<script>");
        assert!(!plot.svg("p", "<b>", "d").into_string().contains("<script>"));
    }
}
