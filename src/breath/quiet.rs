//! The quiet end of expiration: what flows when nobody breathes.

use crate::quantity::{Flow, Moment, Pressure, Ring, Span, arith};
use crate::record;
use crate::signal::Interval;

record! {
    /// Flow and pressure over the quiet end of an expiration.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct Quiet {
        /// How long the quiet lasted: of the last eight blocks of about 50 ms, those that were quiet.
        pub span: Span,
        /// Mean flow at the sensor: the leak at baseline pressure.
        pub flow: Flow,
        /// Mean of the flow less the modelled leak: what the model leaves unexplained.
        pub residual: Flow,
        /// Standard deviation of the flow: noise and ripple.
        pub spread: Flow,
        /// Smallest flow.
        pub low: Flow,
        /// Largest flow: what a trigger threshold must stay above.
        pub high: Flow,
        /// Mean pressure.
        pub pressure: Pressure,
    }
}

impl Quiet {
    /// How far the flow strays from its mean, either way: what ripple reaches above is cut off by
    /// the trigger just when it matters, what it reaches below is not.
    #[must_use]
    pub fn reach(&self) -> Flow {
        let above = self.high.saturating_sub(self.flow).value;
        above.max(self.flow.saturating_sub(self.low).value)
    }
}

const BLOCKS: usize = 8;
const BLOCK: Span = Span::from_millis(50);

record! {
    /// The last 400 ms in blocks of 50 ms, so that a turn found late can look at what was before it.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Tail {
        blocks: Ring<Block, BLOCKS>,
        open: Block,
    }
}

record! {
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    struct Block {
        start: Moment,
        end: Moment,
        count: u32,
        /// The first flow, and the others' distance from it summed and squared.
        first: Flow,
        apart: i64,
        squares: u64,
        lung: i64,
        pressure: i64,
        low: Flow,
        high: Flow,
    }
}

impl Block {
    fn add(&mut self, interval: &Interval) {
        let flow = interval.to.flow;
        if self.count == 0 {
            (self.start, self.low, self.high, self.first) = (interval.at, flow, flow, flow);
        }
        self.end = interval.at;
        self.count = self.count.saturating_add(1);
        // At most 50 000 samples, one each µs: below 2⁴⁸, the squares below 2⁶⁴.
        let put = |sum: &mut i64, more| *sum = arith::add_bounded(*sum, more);
        put(&mut self.lung, arith::widen(interval.to.lung.to_bits()));
        put(&mut self.pressure, arith::widen(interval.to.pressure.to_bits()));
        let apart = arith::away(self.first.to_bits(), flow.to_bits());
        put(&mut self.apart, apart);
        self.squares = self.squares.saturating_add(arith::square_apart(apart));
        self.low = self.low.min(flow);
        self.high = self.high.max(flow);
    }

    fn join(&mut self, earlier: &Self) {
        self.start = earlier.start;
        self.moved_to(earlier.first);
        self.count = self.count.saturating_add(earlier.count);
        self.lung = arith::accumulate(self.lung, earlier.lung).value;
        self.pressure = arith::accumulate(self.pressure, earlier.pressure).value;
        self.apart = arith::accumulate(self.apart, earlier.apart).value;
        self.squares = self.squares.saturating_add(earlier.squares);
        self.low = self.low.min(earlier.low);
        self.high = self.high.max(earlier.high);
    }

    /// States the distances from another first flow: Σ(x + d)² = Σx² + 2dΣx + nd².
    fn moved_to(&mut self, first: Flow) {
        let by = arith::away(first.to_bits(), self.first.to_bits());
        (self.apart, self.squares) = arith::moved_squares(self.count, self.apart, self.squares, by);
        self.first = first;
    }

    fn is_quiet(&self, bias: Flow, limit: Flow) -> bool {
        let low = bias.saturating_sub(limit).value.to_bits();
        let high = bias.saturating_add(limit).value.to_bits();
        self.count > 0 && arith::mean_is_within(self.lung, self.count, low, high)
    }
}

impl Tail {
    /// Takes the later end of an interval.
    pub(super) fn push(&mut self, interval: &Interval) {
        if self.open.count > 0 && interval.at.since(self.open.start) >= BLOCK {
            self.blocks.push(self.open);
            self.open = Block::default();
        }
        self.open.add(interval);
    }

    /// The quiet stretch that ends at `until`: block by block backwards as long as the mean flow
    /// into the lung stays within `limit` of `bias`. `None` where not one block is quiet.
    pub(super) fn quiet(&self, until: Moment, bias: Flow, limit: Flow) -> Option<Quiet> {
        let mut found: Option<Block> = None;
        for block in self.blocks.iter().rev().filter(|block| block.end <= until) {
            if !block.is_quiet(bias, limit) {
                break;
            }
            match &mut found {
                None => found = Some(*block),
                Some(joined) => joined.join(block),
            }
        }
        let block = found?;
        Some(Quiet {
            span: block.end.since(block.start),
            flow: block
                .first
                .saturating_add(Flow::from_bits(arith::mean_of(block.apart, block.count)))
                .value,
            residual: Flow::from_bits(arith::mean_of(block.lung, block.count)),
            spread: Flow::from_bits(arith::spread_q16(block.count, block.apart, block.squares)),
            low: block.low,
            high: block.high,
            pressure: Pressure::from_bits(arith::mean_of(block.pressure, block.count)),
        })
    }
}
