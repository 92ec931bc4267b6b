//! Flow and pressure: the envelope of all, and every sample of late.

use super::merged::{Join, Merged, binned};
use std::collections::VecDeque;

/// Samples of late are kept for so many seconds: those shown and the breath before them.
const KEPT: f64 = 20.0;
/// And no more than this many.
const MOST: usize = 16_384;
/// Up to this length single breaths can be told apart in a line across the width, in seconds.
const LINE: f64 = 240.0;
/// The envelope of a longer recording is drawn in no more columns than this,
const COLUMNS: f64 = 430.0;
/// each long enough for a breath, in seconds.
const NARROWEST: f64 = 3.0;

#[derive(Default)]
pub(super) struct Wave {
    buckets: Merged<Bucket>,
    recent: VecDeque<Sample>,
}

/// One sample.
#[derive(Clone, Copy)]
pub(super) struct Sample {
    pub(super) at: f64,
    pub(super) flow: f64,
    pub(super) pressure: f64,
}

/// Lowest and highest of neighbouring samples.
#[derive(Clone, Copy)]
pub(super) struct Bucket {
    at: f64,
    pub(super) flow: (f64, f64),
    pub(super) pressure: (f64, f64),
}

impl Join for Bucket {
    fn join(&mut self, next: &Self) {
        let wider = |a: (f64, f64), b: (f64, f64)| (a.0.min(b.0), a.1.max(b.1));
        self.flow = wider(self.flow, next.flow);
        self.pressure = wider(self.pressure, next.pressure);
    }
}

impl Wave {
    pub(super) fn push(&mut self, at: f64, flow: f64, pressure: f64) {
        self.buckets.push(Bucket { at, flow: (flow, flow), pressure: (pressure, pressure) });
        self.recent.push_back(Sample { at, flow, pressure });
        while self.recent.len() > MOST || self.recent.front().is_some_and(|s| s.at < at - KEPT) {
            self.recent.pop_front();
        }
    }

    /// Samples of late.
    pub(super) fn recent(&self) -> impl Iterator<Item = Sample> + '_ {
        self.recent.iter().copied()
    }

    /// How wide the columns of the envelope are; `None` where a recording of this length is short
    /// enough to be drawn as a line.
    pub(super) fn column(end: f64) -> Option<f64> {
        (end > LINE).then(|| (end / COLUMNS).max(NARROWEST))
    }

    /// A line through all samples, or through lowest and highest in turn where some were merged.
    pub(super) fn line(&self, value: Value) -> Vec<(f64, f64)> {
        let single = self.buckets.is_single();
        let both = self.buckets.items().iter().enumerate().flat_map(|(i, bucket)| {
            let (low, high) = value(bucket);
            let ends = if i % 2 == 0 { [low, high] } else { [high, low] };
            ends.into_iter().take(if single { 1 } else { 2 }).map(|v| (bucket.at, v))
        });
        both.collect()
    }

    /// Start, end, lowest and highest of each column.
    pub(super) fn envelope(&self, width: f64, end: f64, value: Value) -> Vec<[f64; 4]> {
        let columns = binned(self.buckets.items(), |bucket| bucket.at, width, end);
        let flat = columns.iter().map(|(from, to, bucket)| {
            let (low, high) = value(bucket);
            [*from, *to, low, high]
        });
        flat.collect()
    }
}

/// Lowest and highest of either curve.
pub(super) type Value = fn(&Bucket) -> (f64, f64);
