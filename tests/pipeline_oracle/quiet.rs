//! The quiet end of an expiration: blocks of at least 50 ms.

use crate::track::Point;

#[derive(Debug, Default)]
pub(crate) struct Blocks {
    closed: Vec<Vec<Point>>,
    open: Vec<Point>,
}

/// The numbers of a quiet stretch.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Quiet {
    pub(crate) span: f64,
    pub(crate) flow: f64,
    pub(crate) residual: f64,
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

    /// The stretch of blocks that ends before a moment and lasts so long; where it starts was a
    /// decision.
    pub(crate) fn lasting_before(&self, until_us: u64, span_us: u64) -> Option<Quiet> {
        let blocks = self.closed.iter().rev();
        let mut ended = blocks.skip_while(|block| block[block.len() - 1].us > until_us);
        let mut points: Vec<Point> = ended.next()?.clone();
        loop {
            let span = points[points.len() - 1].us - points[0].us;
            if span == span_us {
                return Some(numbers(&points));
            }
            let mut earlier = ended.next()?.clone();
            earlier.extend(points);
            points = earlier;
        }
    }
}

fn numbers(points: &[Point]) -> Quiet {
    let n = points.len() as f64;
    let mean = |of: fn(&Point) -> f64| points.iter().map(of).sum::<f64>() / n;
    let flow = mean(|p| p.flow);
    let variance = points.iter().map(|p| (p.flow - flow).powi(2)).sum::<f64>() / n;
    let span_us = points[points.len() - 1].us - points[0].us;
    Quiet {
        span: span_us as f64,
        flow,
        residual: mean(|p| p.lung),
        spread: variance.sqrt(),
        low: points.iter().map(|p| p.flow).fold(f64::INFINITY, f64::min),
        high: points.iter().map(|p| p.flow).fold(f64::NEG_INFINITY, f64::max),
        pressure: mean(|p| p.pressure),
    }
}
