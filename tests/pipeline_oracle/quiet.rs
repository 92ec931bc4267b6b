//! The quiet end of an expiration: blocks of at least 50 ms.

use crate::track::Point;

#[derive(Debug, Default)]
pub(crate) struct Blocks {
    pub(crate) closed: Vec<Vec<Point>>,
    open: Vec<Point>,
}

/// The numbers of a quiet stretch.
#[derive(Debug, Clone, Copy)]
pub(crate) struct EndExpiration {
    pub(crate) span: f64,
    pub(crate) flow: f64,
    pub(crate) residual: f64,
    /// From its first block to its last.
    pub(crate) tail: f64,
    pub(crate) last: f64,
    pub(crate) spread: f64,
    pub(crate) low: f64,
    pub(crate) high: f64,
    pub(crate) pressure: f64,
}

impl Blocks {
    pub(crate) fn push(&mut self, point: &Point) {
        if self.open.first().is_some_and(|first| point.us - first.us >= 50_000) {
            self.closed.push(std::mem::take(&mut self.open));
        }
        self.open.push(*point);
    }

    /// Flow and pressure over the last four blocks, each counting the same.
    pub(crate) fn last_four(&self) -> (f64, f64) {
        let four = &self.closed[self.closed.len() - 4..];
        let mean = |of: fn(&[Point]) -> f64| four.iter().map(|block| of(block)).sum::<f64>() / 4.0;
        (mean(flow), mean(|block| mean_of(block, |p| p.pressure)))
    }

    /// The mean pressure of the last four blocks, where it swung by more than 0.3 cmH2O and stayed within 1 of that.
    pub(crate) fn swings_about(&self) -> Option<f64> {
        let (least, most, mean) = self.pressures()?;
        (most - least > 0.3 && most - mean <= 1.0).then_some(mean)
    }

    /// The least mean pressure of the last four blocks, the largest, and the mean of all.
    pub(crate) fn pressures(&self) -> Option<(f64, f64, f64)> {
        let last = self.closed.iter().rev().take(4).map(|block| mean_of(block, |p| p.pressure));
        let last: Vec<f64> = last.collect();
        let most = last.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let least = last.iter().copied().fold(f64::INFINITY, f64::min);
        (last.len() == 4).then(|| (least, most, last.iter().sum::<f64>() / 4.0))
    }

    /// Whether the last block before a moment was quiet: the mean flow into the lung within a limit.
    pub(crate) fn was_quiet(&self, at: f64, limit: f64) -> bool {
        let before = self.closed.iter().rev().find(|block| block[block.len() - 1].us as f64 <= at);
        before.is_some_and(|block| mean_of(block, |p| p.lung).abs() <= limit)
    }

    /// Whether a block has just ended, and the last four have much the same flow.
    pub(crate) fn may_stand_still(&self) -> bool {
        let last: Vec<f64> = self.closed.iter().rev().take(4).map(|block| flow(block)).collect();
        let most = last.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let least = last.iter().copied().fold(f64::INFINITY, f64::min);
        self.open.len() == 1 && last.len() == 4 && most - least < 4.0
    }

    /// The stretch of blocks that lasts so long: the one that ends before a moment, or one that a rise of
    /// the flow ended after it. Where it starts and ends was a decision: the flow and pressure given tell
    /// which it is.
    pub(crate) fn lasting(
        &self,
        onset_us: u64,
        span_us: u64,
        (near_flow, near_pressure): (f64, f64),
    ) -> Option<EndExpiration> {
        let before = self.closed.partition_point(|block| block[block.len() - 1].us <= onset_us);
        let found = (before..=self.closed.len()).filter_map(|end| self.ending(end, span_us));
        let off =
            |q: &EndExpiration| (q.flow - near_flow).abs() + (q.pressure - near_pressure).abs();
        found.min_by(|a, b| off(a).total_cmp(&off(b)))
    }

    /// The stretch of that length whose last block is the one before `end`.
    fn ending(&self, end: usize, span_us: u64) -> Option<EndExpiration> {
        let blocks = &self.closed[..end];
        let last = blocks.last()?;
        let until = last[last.len() - 1].us;
        let first = blocks.iter().position(|block| until - block[0].us == span_us)?;
        let tail = (flow(last) - flow(&blocks[first])).abs();
        Some(EndExpiration { tail, last: flow(last), ..numbers(&blocks[first..].concat()) })
    }
}

fn mean_of(points: &[Point], of: fn(&Point) -> f64) -> f64 {
    points.iter().map(of).sum::<f64>() / points.len() as f64
}

fn flow(points: &[Point]) -> f64 {
    mean_of(points, |p| p.flow)
}

fn numbers(points: &[Point]) -> EndExpiration {
    let n = points.len() as f64;
    let mean = |of| mean_of(points, of);
    let flow = flow(points);
    let variance = points.iter().map(|p| (p.flow - flow).powi(2)).sum::<f64>() / n;
    let span_us = points[points.len() - 1].us - points[0].us;
    EndExpiration {
        span: span_us as f64,
        flow,
        residual: mean(|p| p.lung),
        tail: 0.0,
        last: 0.0,
        spread: variance.sqrt(),
        low: points.iter().map(|p| p.flow).fold(f64::INFINITY, f64::min),
        high: points.iter().map(|p| p.flow).fold(f64::NEG_INFINITY, f64::max),
        pressure: mean(|p| p.pressure),
    }
}
