//! Minutes against a list of all that were closed.
//!
//! - A minute ends with the first breath that closes after it; five minutes without a breath begin anew.
//! - The recent window is the last three of the list, the baseline those after the settling, and before a step
//!   stands what was recent then.
//! - No breath counts for more than twice what its kind usually moves, or for longer than 20 s.

use super::dead_space;
use super::sums::Sums;
use super::taken::Taken;
use super::window::Window;
use tidevane::quantity::{Duration, Instant, Mass, Volume};
use tidevane::trend::{Tally, Trend, TrendState};

const MINUTE_US: u64 = 60_000_000;

pub(super) struct Kept {
    pub(super) trend: Trend,
    pub(super) state: TrendState,
    settle: usize,
    pub(super) baseline: usize,
    dead_space: Option<Volume>,
    step: Option<Instant>,
    since: Instant,
    latest: Instant,
    closed: Vec<Sums>,
    /// The breaths of each closed minute, those of the one under way, and those of before the step.
    windows: Vec<Window>,
    window: Window,
    recent_before: Option<Window>,
    usual: [Option<i32>; 3],
    before: Option<Sums>,
    /// What was counted in the minute under way, breath by breath.
    sums: Sums,
}

impl Kept {
    pub(super) fn new(trend: Trend, parts: (u8, u8), weight: Option<Mass>) -> Self {
        Self {
            trend,
            state: TrendState::default(),
            settle: parts.0.into(),
            baseline: parts.1.into(),
            dead_space: weight.map(dead_space),
            step: None,
            since: Instant::default(),
            latest: Instant::default(),
            closed: Vec::new(),
            windows: Vec::new(),
            window: Window::default(),
            recent_before: None,
            usual: [None; 3],
            before: None,
            sums: Sums::default(),
        }
    }

    fn anew(&mut self, at: Instant) {
        (self.step, self.since, self.latest) = (Some(at), at, at);
        self.sums = Sums::default();
        self.closed.clear();
        self.window = Window::default();
        self.windows.clear();
    }

    /// Whether a minute ended.
    pub(super) fn breath(&mut self, at: Instant, breath: &Taken) -> bool {
        let ended = self.trend.breath(&mut self.state, at, &breath.breath());
        if self.step.is_some() && at <= self.latest {
            assert!(!ended);
            return false;
        }
        if self.step.is_none() || at.since(self.latest).to_us() > 5 * MINUTE_US {
            self.anew(at);
            (self.usual, self.before, self.recent_before) = ([None; 3], None, None);
        }
        self.latest = at;
        let counted = self.counted(breath);
        self.sums.take(&counted);
        self.window.breaths.push(counted);
        let is_full = at.since(self.since).to_us() >= MINUTE_US;
        assert_eq!(ended, is_full);
        if is_full {
            self.since = at;
            self.closed.push(std::mem::take(&mut self.sums));
            self.windows.push(std::mem::take(&mut self.window));
        }
        self.holds();
        ended
    }

    /// As it counts.
    fn counted(&mut self, breath: &Taken) -> Taken {
        let mut counted = *breath;
        counted.length = counted.length.min(Duration::from_millis(20_000));
        let Some(volume) = breath.volume.filter(|_| breath.trusted) else { return counted };
        let kind = &mut self.usual[breath.kind as usize];
        // Zero is not known yet.
        let usual = kind.filter(|usual| *usual != 0).unwrap_or(volume.to_bits());
        let volume = volume.to_bits().min(usual.saturating_mul(2)).max(0);
        // A sixteenth of the way, toward negative infinity.
        *kind = Some(usual + (volume - usual).div_euclid(16));
        counted.volume = Some(Volume::from_bits(volume));
        counted.shallow = self.dead_space.is_some_and(|space| volume < space.to_bits());
        counted
    }

    pub(super) fn missed(&mut self) {
        self.trend.missed(&mut self.state);
        self.sums.missed += 1;
        self.window.missed += 1;
    }

    pub(super) fn rebase(&mut self, at: Instant) {
        self.trend.rebase(&mut self.state, at);
        (self.before, self.recent_before) = (self.recent(), self.now());
        let latest = self.latest.max(at);
        self.anew(at);
        self.latest = latest;
        self.holds();
    }

    fn recent(&self) -> Option<Sums> {
        self.closed.len().checked_sub(3).map(|first| Sums::joined(&self.closed[first..]))
    }

    /// The last three minutes.
    pub(super) fn now(&self) -> Option<Window> {
        self.windows.len().checked_sub(3).map(|first| Window::joined(&self.windows[first..]))
    }

    /// The beginning of the step.
    pub(super) fn then(&self) -> Window {
        let minutes = self.windows.iter().skip(self.settle).take(self.baseline);
        Window::joined(&minutes.cloned().collect::<Vec<_>>())
    }

    /// The end of the step before, where it has a breath that is trusted.
    pub(super) fn before(&self) -> Option<Window> {
        self.recent_before.clone().filter(|before| before.count() > 0)
    }

    /// The minutes that a baseline and a window after it take.
    pub(super) fn is_past_baseline(&self) -> bool {
        self.closed.len() >= self.settle + self.baseline + 3
    }

    fn holds(&self) {
        let state = &self.state;
        assert_eq!(state.step(), self.step);
        assert_eq!(usize::from(state.minutes()), self.closed.len());
        let is = |tally: Option<&Tally>, sums: Option<Sums>| {
            assert_eq!(tally.is_some(), sums.is_some());
            if let Some((tally, sums)) = tally.zip(sums) {
                sums.holds(tally);
            }
        };
        is(state.recent().as_ref(), self.recent());
        let taken = self.closed.len().min(self.settle + self.baseline);
        let from = self.settle.min(taken);
        is(Some(state.baseline()), Some(Sums::joined(&self.closed[from..taken])));
        let before = self.before.as_ref().filter(|before| before.is_any());
        is(state.before(), before.cloned());
        let whole = self.closed.len() >= self.settle + self.baseline;
        assert_eq!(self.trend.has_baseline(state), whole);
    }
}
