//! Ten seconds of flow and pressure at chosen moments and of every minute: memory that does not grow with the recording.

use std::collections::VecDeque;

/// How long a window is, in seconds.
pub(super) const LONG: f64 = 10.0;
/// Readings a second that are kept,
const RATE: f64 = 100.0;
/// in a window,
pub(super) const READINGS: usize = 1_000;
/// and so many before now, from which a window of a moment that has passed is taken.
const RECENT: usize = 3_000;
/// Between readings no further apart than this a line is drawn: what is usual, and what is no gap.
const BRIDGED: u64 = 10;
/// A chosen moment stands so far from the start of its window, in seconds.
const BEFORE: f64 = 6.0;
/// More windows than these are not kept: then every second one goes.
const MOST: usize = 1_024;

/// Flow in mL/s and pressure in cmH2O in these steps, which no figure shows; what lies beyond ±6,553 mL/s and ±327 cmH2O
/// stands at the end.
type Pair = [i16; 2];
const STEPS: [f64; 2] = [0.2, 0.01];
/// There was none.
const NONE: Pair = [i16::MIN; 2];

/// Flow or pressure; not a number where there was none.
fn value(pair: Pair, which: usize) -> f64 {
    if pair == NONE { f64::NAN } else { STEPS[which] * f64::from(pair[which]) }
}

/// Ten seconds.
#[derive(Clone)]
pub(super) struct Window {
    pub(super) from_s: f64,
    pairs: Vec<Pair>,
}

impl Window {
    fn at(from_s: f64) -> Self {
        Self { from_s, pairs: vec![NONE; READINGS] }
    }

    pub(super) fn holds(&self, at: f64) -> bool {
        (self.from_s..self.from_s + LONG).contains(&at)
    }

    /// The readings with their times: flow in mL/s and pressure in cmH2O, not a number where there was none.
    pub(super) fn readings(&self) -> impl Iterator<Item = (f64, [f64; 2])> + '_ {
        let both = self.pairs.iter().map(|pair| [0, 1].map(|which| value(*pair, which)));
        both.enumerate().map(|(i, both)| (self.from_s + i as f64 / RATE, both))
    }

    /// Flow, or pressure, of every place; not a number where there was none.
    pub(super) fn values(&self, which: usize) -> impl Iterator<Item = f64> + '_ {
        self.pairs.iter().map(move |pair| value(*pair, which))
    }
}

/// A moment chosen to be looked at.
pub(super) struct Chosen {
    pub(super) title: &'static str,
    pub(super) at: f64,
    pub(super) window: Option<Window>,
}

/// What is kept of a recording.
pub(crate) struct Windows {
    recent: VecDeque<(u64, Pair)>,
    open: Option<(u64, Window)>,
    /// A window of every so many minutes.
    pub(super) every: u64,
    pub(super) minutes: Vec<Window>,
    pub(super) chosen: Vec<Chosen>,
}

impl Default for Windows {
    fn default() -> Self {
        Self {
            recent: VecDeque::with_capacity(RECENT),
            open: None,
            every: 1,
            minutes: Vec::new(),
            chosen: Vec::new(),
        }
    }
}

impl Windows {
    /// A reading at a time in seconds.
    pub(crate) fn reading(&mut self, at_s: f64, flow: f64, pressure: f64) {
        let slot = (at_s * RATE + 0.01) as u64;
        let step = |value: f64, step: f64| (value / step).round().max(-32_767.0) as i16;
        let pair = [step(flow, STEPS[0]), step(pressure, STEPS[1])];
        match self.recent.back().copied() {
            Some((last, _)) if last >= slot => return,
            Some((last, was)) if slot - last <= BRIDGED => {
                for between in last + 1..slot {
                    let share = (between - last) as f64 / (slot - last) as f64;
                    let of = |i: usize| {
                        let [from, to] = [was[i], pair[i]].map(f64::from);
                        (from + share * (to - from)).round() as i16
                    };
                    self.keep(between, [of(0), of(1)]);
                }
            }
            _ => {}
        }
        self.keep(slot, pair);
        if self.chosen.iter().any(|c| c.window.is_none() && at_s >= c.at + LONG - BEFORE) {
            self.settle(at_s);
        }
    }

    fn keep(&mut self, slot: u64, pair: Pair) {
        if self.recent.len() == RECENT {
            self.recent.pop_front();
        }
        self.recent.push_back((slot, pair));
        self.minute(slot, pair);
    }

    fn minute(&mut self, slot: u64, pair: Pair) {
        let of_minute = (60.0 * RATE) as u64;
        let (minute, place) = (slot / of_minute, (slot % of_minute) as usize);
        if self.open.as_ref().is_some_and(|(open, _)| *open != minute) {
            self.close();
        }
        if place < READINGS && minute.is_multiple_of(self.every) {
            let (_, window) =
                self.open.get_or_insert_with(|| (minute, Window::at(minute as f64 * 60.0)));
            window.pairs[place] = pair;
        }
    }

    fn close(&mut self) {
        let Some((minute, window)) = self.open.take() else { return };
        if !minute.is_multiple_of(self.every) {
            return;
        }
        self.minutes.push(window);
        if self.minutes.len() > MOST {
            self.every *= 2;
            let every = self.every as f64 * 60.0;
            self.minutes.retain(|window| (window.from_s % every).abs() < 1.0);
        }
    }

    /// A moment to be looked at, which passed a little while ago at most.
    pub(crate) fn choose(&mut self, title: &'static str, at: f64) {
        if !self.chosen.iter().any(|chosen| chosen.title == title) {
            self.chosen.push(Chosen { title, at, window: None });
        }
    }

    /// Windows of the moments that have passed.
    fn settle(&mut self, now: f64) {
        for chosen in &mut self.chosen {
            if chosen.window.is_none() && now >= chosen.at + LONG - BEFORE {
                chosen.window = Some(window(&self.recent, (chosen.at - BEFORE).max(0.0)));
            }
        }
    }

    /// The recording is over, at a time in seconds.
    pub(crate) fn finish(&mut self, end_s: f64) {
        self.close();
        self.choose("The last ten seconds", end_s - LONG + BEFORE);
        self.settle(f64::INFINITY);
    }
}

fn window(recent: &VecDeque<(u64, Pair)>, from_s: f64) -> Window {
    let from = (from_s * RATE).round() as u64;
    let mut window = Window::at(from as f64 / RATE);
    for (slot, pair) in recent {
        if let Some(place) = slot.checked_sub(from).and_then(|i| window.pairs.get_mut(i as usize)) {
            *place = *pair;
        }
    }
    window
}

#[cfg(test)]
mod tests {
    use super::*;

    /// So many seconds at 200 Hz, the flow its own time.
    fn heard(seconds: u32) -> Windows {
        let mut windows = Windows::default();
        for i in 0..seconds * 200 {
            let at = f64::from(i) / 200.0;
            windows.reading(at, at, 5.0);
            if i == 6_000 {
                windows.choose("here", 29.0);
            }
        }
        windows.finish(f64::from(seconds));
        windows
    }

    #[test]
    fn a_window_is_of_its_time() {
        // 3 minutes: windows of minutes 0, 1, 2. The second begins at 60 s and holds 60.00 to 69.99.
        let windows = heard(180);
        assert_eq!(windows.minutes.len(), 3);
        // In steps of 0.2 mL/s.
        let flows: Vec<_> = windows.minutes[1].values(0).collect();
        assert_eq!((flows[0], flows[999]), (60.0, 70.0));
        // The moment at 29 s: 23.00 to 32.99; the end: 170.00 to 179.99.
        let of = |i: usize| {
            let values: Vec<_> = windows.chosen[i].window.as_ref().unwrap().values(0).collect();
            (values[0], values[999])
        };
        assert_eq!((of(0), of(1)), ((23.0, 33.0), (170.0, 180.0)));
    }

    #[test]
    fn what_is_kept_does_not_grow() {
        // 1,500 minutes at one reading a second: after 1,025 windows every second one goes.
        let mut windows = Windows::default();
        (0..90_000).for_each(|s| windows.reading(f64::from(s), 1.0, 5.0));
        windows.finish(90_000.0);
        assert_eq!((windows.every, windows.minutes.len()), (2, 750));
    }

    #[test]
    fn where_nothing_was_heard_nothing_is_shown() {
        let mut windows = Windows::default();
        windows.reading(0.0, 1.0, 5.0);
        windows.finish(1.0);
        assert!(windows.minutes[0].values(0).skip(1).all(f64::is_nan));
    }

    #[test]
    fn a_reading_beyond_all_sensors_stands_at_the_end() {
        // 32,767 steps of 0.2 mL/s and 0.01 cmH2O; 12.34 cmH2O is kept as it is.
        let mut windows = Windows::default();
        windows.reading(0.0, -1e6, 1e6);
        windows.reading(0.01, 1e6, 12.34);
        windows.finish(1.0);
        let both: Vec<_> = windows.minutes[0].readings().take(2).map(|r| r.1).collect();
        let want = [[-6_553.4, 327.67], [6_553.4, 12.34]];
        assert!(
            both.iter().flatten().zip(want.iter().flatten()).all(|(a, b)| (a - b).abs() < 1e-9),
            "{both:?}"
        );
    }
}
