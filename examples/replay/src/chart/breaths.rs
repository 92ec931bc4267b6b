//! The breaths: tallies of all, and each breath of late.

use super::merged::{Join, Merged, binned};
use super::style::Mark;
use crate::figures::float;
use crate::timeline::Timeline;
use std::collections::VecDeque;
use tidevane::breath::Kind;
use tidevane::monitor::BreathReport;

/// So many breaths of late are kept one by one.
const KEPT: usize = 256;
/// Trends are drawn in no more bins than this,
const BINS: f64 = 200.0;
/// and no bin is shorter, in seconds.
const SHORTEST_BIN: f64 = 15.0;

#[derive(Default)]
pub(super) struct Breaths {
    tallies: Merged<Tally>,
    recent: VecDeque<Onset>,
}

/// Where a breath of late begins.
#[derive(Clone, Copy)]
pub(super) struct Onset {
    pub(super) at: f64,
    pub(super) end: f64,
    pub(super) mark: Mark,
    pub(super) flagged: bool,
}

/// What neighbouring breaths came to.
#[derive(Clone, Copy, Default)]
pub(super) struct Tally {
    pub(super) from: f64,
    to: f64,
    lengths: f64,
    pub(super) count: f64,
    /// How many of each mark.
    pub(super) marks: [f64; Mark::ALL.len()],
    pub(super) flagged: f64,
    /// Expired volumes of trusted inflations and own breaths.
    pub(super) inflations: Spread,
    pub(super) own: Spread,
    /// Leak share over the last trusted breaths.
    pub(super) leak: Spread,
}

#[derive(Clone, Copy)]
pub(super) struct Spread {
    count: f64,
    sum: f64,
    pub(super) low: f64,
    pub(super) high: f64,
}

impl Default for Spread {
    fn default() -> Self {
        Self { count: 0.0, sum: 0.0, low: f64::INFINITY, high: f64::NEG_INFINITY }
    }
}

impl Spread {
    fn of(value: f64) -> Self {
        Self { count: 1.0, sum: value, low: value, high: value }
    }

    pub(super) fn mean(&self) -> Option<f64> {
        (self.count > 0.0).then(|| self.sum / self.count)
    }

    fn join(&mut self, next: &Self) {
        self.count += next.count;
        self.sum += next.sum;
        self.low = self.low.min(next.low);
        self.high = self.high.max(next.high);
    }
}

impl Join for Tally {
    fn join(&mut self, next: &Self) {
        self.to = next.to;
        self.lengths += next.lengths;
        self.count += next.count;
        self.marks.iter_mut().zip(next.marks).for_each(|(sum, more)| *sum += more);
        self.flagged += next.flagged;
        self.inflations.join(&next.inflations);
        self.own.join(&next.own);
        self.leak.join(&next.leak);
    }
}

impl Tally {
    /// Breaths per minute.
    pub(super) fn rate(&self) -> Option<f64> {
        (self.lengths > 0.0).then(|| 60.0 * self.count / self.lengths)
    }

    /// Own breaths' part of the expired volume.
    pub(super) fn own_share(&self) -> Option<f64> {
        let all = self.own.sum + self.inflations.sum;
        (all > 0.0).then(|| self.own.sum.max(0.0) / all)
    }
}

impl Breaths {
    pub(super) fn push(&mut self, report: &BreathReport, timeline: &Timeline) {
        let breath = &report.breath;
        let mark = Mark::of(report);
        let flagged = !breath.is_trusted();
        let from = timeline.seconds_at(breath.onset);
        let end = timeline.seconds_at(breath.end);
        let mut one = Tally {
            from,
            to: end,
            lengths: breath.end.since(breath.onset).to_us() as f64 / 1e6,
            count: 1.0,
            flagged: f64::from(u8::from(flagged)),
            leak: report
                .leak_window
                .share()
                .map_or_else(Spread::default, |share| Spread::of(float(share.to_bits()))),
            ..Tally::default()
        };
        one.marks[mark as usize] = 1.0;
        let expired = Spread::of(float(breath.expired.value.to_bits()));
        match breath.kind {
            _ if flagged => {}
            Kind::Inflation => one.inflations = expired,
            Kind::Own => one.own = expired,
        }
        self.tallies.push(one);
        if self.recent.len() == KEPT {
            self.recent.pop_front();
        }
        self.recent.push_back(Onset { at: from, end, mark, flagged });
    }

    /// Breaths of late.
    pub(super) fn recent(&self) -> impl Iterator<Item = Onset> + '_ {
        self.recent.iter().copied()
    }

    /// Each breath, where they are few enough.
    pub(super) fn each(&self, most: usize) -> Option<&[Tally]> {
        let items = self.tallies.items();
        (self.tallies.is_single() && items.len() <= most).then_some(items)
    }

    /// How long the bins of a recording of this length are.
    pub(super) fn bin(end: f64) -> f64 {
        (end / BINS).max(SHORTEST_BIN)
    }

    /// Tallies by time: start of the bin, end of it, and what its breaths came to.
    pub(super) fn bins(&self, end: f64) -> Vec<(f64, f64, Tally)> {
        let middle = |tally: &Tally| f64::midpoint(tally.from, tally.to);
        binned(self.tallies.items(), middle, Self::bin(end), end)
    }
}
