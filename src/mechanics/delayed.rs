//! Pressure as it was when the flow beside it was measured: sensors of flow often lag behind those of
//! pressure.

use crate::quantity::{Duration, Instant, Pressure, Ring};
use crate::record;
use crate::signal::Interval;

/// Readings closer than this are one point. Chosen here, no source.
const APART: Duration = Duration::from_millis(3);
/// So many points are kept. Chosen here, no source.
const KEPT: usize = 10;
/// A shorter lag is not undone. Chosen here, no source.
const LEAST: Duration = Duration::from_millis(1);
/// A longer one is undone up to here: no ten points reach further. Chosen here, no source.
const MOST: Duration = Duration::from_millis(25);

record! {
    #[const_default]
    /// Pressures of the last moments, for [`FitSums`](super::FitSums).
    ///
    /// A lag of 15 ms between flow and pressure leaves compliance alone and doubles resistance, or
    /// lowers R² below what is believed.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct Delayed {
        points: Ring<Point, KEPT>,
        newest: Instant,
        /// What the latest interval ended with; none where nothing asked.
        last: Option<Pressure>,
    }
}

record! {
    #[const_default]
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    struct Point {
        /// Time since the point before, in µs.
        apart: u32,
        pressure: Pressure,
    }
}

impl Delayed {
    /// The pressures `lag` before the ends of an interval, 0 to 25 ms; one below 1 ms changes nothing. On
    /// straight lines between points 3 ms apart or more. One 32-bit divide, and none without a lag.
    pub fn step(&mut self, interval: &Interval, lag: Duration) -> [Pressure; 2] {
        if lag < LEAST {
            self.pass(interval, lag);
            return [interval.from.pressure, interval.to.pressure];
        }
        let lag = lag.min(MOST);
        let before = match self.last {
            Some(before) => before,
            None => self.at(lag, interval.start(), interval.from.pressure),
        };
        self.pass(interval, lag);
        let now = self.at(lag, interval.at, interval.to.pressure);
        self.last = Some(now);
        [before, now]
    }

    /// Keeps an interval of which nothing is asked.
    pub fn pass(&mut self, interval: &Interval, lag: Duration) {
        self.last = None;
        if lag < LEAST {
            if !self.points.is_empty() {
                self.points = Ring::default();
            }
            return;
        }
        if self.points.is_empty() {
            self.newest = interval.start();
            self.points.push(Point { apart: 0, pressure: interval.from.pressure });
        }
        let since = interval.at.since(self.newest);
        if since >= APART {
            let apart = since.to_short_us().value;
            self.points.push(Point { apart, pressure: interval.to.pressure });
            self.newest = interval.at;
        }
    }

    /// The lag is another one from here on.
    pub fn begin(&mut self) {
        self.last = None;
    }

    /// The pressure so long before a moment at which it is known, after the points; the earliest known where
    /// no point lies before.
    fn at(&self, lag: Duration, at: Instant, pressure: Pressure) -> Pressure {
        let mut since = at.since(self.newest);
        let (mut whole, mut later) = (since, pressure);
        for point in self.points.iter().rev() {
            if since >= lag {
                let ahead = since.saturating_sub(lag);
                return point.pressure.between(later, ahead.short_share_of(whole));
            }
            whole = Duration::from_us(point.apart.into());
            since = since.saturating_add(whole);
            later = point.pressure;
        }
        later
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::End;

    /// Pressure in thousandths of cmH2O that rises by 1 cmH2O each 10 ms from 40 ms on, `each` ms a
    /// reading, `lag` ms later.
    fn delayed(each: u32, lag: u32) -> std::vec::Vec<i64> {
        let mut state = Delayed::default();
        let at = |n: u32| u64::from(n * each) * 1_000;
        let end = |n: u32| {
            let pressure = 5_000 + 100 * ((n * each) as i32 - 40).max(0);
            End { pressure: Pressure::from_milli(pressure).value, ..End::default() }
        };
        (1..=100 / each)
            .map(|n| {
                let (from, to, span) = (end(n - 1), end(n), Duration::from_millis(each));
                let at = Instant::from_us(at(n));
                let interval = Interval { at, span, from, to, ..Interval::default() };
                let [_, now] = state.step(&interval, Duration::from_millis(lag));
                (now.to_f64() * 1_000.0 + 0.5).floor() as i64
            })
            .collect()
    }

    #[test]
    fn the_rise_comes_later_by_the_lag() {
        // 5 cmH2O up to 40 + 15 ms, then 0.1 a ms: 5.5 at 60 ms, 6.5 at 70.
        assert_eq!(delayed(10, 15)[4..8], [5_000, 5_500, 6_500, 7_500]);
        // At 500 Hz points are 4 ms apart, 12 ms late: 5.0 at 52 ms, 5.6 at 58 ms, 9.8 at 100.
        let fine = delayed(2, 12);
        assert_eq!((fine[25], fine[28], fine[49]), (5_000, 5_600, 9_800));
        // 80 ms are cut to 25: 100 ms show what 75 had, 5 + 3.5.
        assert_eq!(delayed(5, 80)[19], 8_500);
    }

    #[test]
    fn without_a_lag_nothing_is_changed() {
        assert_eq!(delayed(10, 0)[4..8], [6_000, 7_000, 8_000, 9_000]);
    }

    #[test]
    fn a_lag_counts_from_one_ms_on() {
        // 5 to 6 cmH2O over 10 ms, then 8 to 9 behind a gap: half a ms changes neither, 1 ms is a tenth of a rise.
        let told = |lag: u64| {
            let mut state = Delayed::default();
            let end = |pressure| End { pressure: Pressure::from_int(pressure), ..End::default() };
            let mut step = |at: u64, from, to| {
                let span = Duration::from_millis(10);
                let at = Instant::from_us(at * 1_000);
                let (from, to) = (end(from), end(to));
                let interval = Interval { at, span, from, to, ..Interval::default() };
                let [before, now] = state.step(&interval, Duration::from_us(lag));
                [before, now].map(|p| (p.to_f64() * 1_000.0 + 0.5).floor() as i64)
            };
            [step(10, 5, 6), step(30, 8, 9)]
        };
        assert_eq!(told(500), [[5_000, 6_000], [8_000, 9_000]]);
        assert_eq!(told(999), [[5_000, 6_000], [8_000, 9_000]]);
        assert_eq!(told(1_000)[0], [5_000, 5_900]);
    }

    #[test]
    fn what_came_before_a_stretch_without_a_lag_is_forgotten() {
        let end = |pressure| End { pressure: Pressure::from_int(pressure), ..End::default() };
        let mut state = Delayed::default();
        let mut step = |at: u64, from, to, lag| {
            let (at, span) = (Instant::from_us(at * 1_000), Duration::from_millis(10));
            let interval =
                Interval { at, span, from: end(from), to: end(to), ..Interval::default() };
            let ends = state.step(&interval, Duration::from_millis(lag));
            ends.map(|p| (p.to_f64() * 1e3).round() as i32)
        };
        // 5 to 6 cmH2O with a lag of 5 ms, 6 to 7 without; 9 to 10 with it again begins by itself: half way up.
        let _ = (step(10, 5, 6, 5), step(20, 6, 7, 0));
        assert_eq!(step(30, 9, 10, 5), [9_000, 9_500]);
    }
}
