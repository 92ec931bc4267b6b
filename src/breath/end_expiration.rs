//! The quiet end of expiration: what flows when nobody breathes.

use crate::quantity::unit::{CmH2O, MlPerS, Unit};
use crate::quantity::{Duration, Flow, Instant, Pressure, Quantity, Ring, Squares, Wide};
use crate::record;
use crate::signal::Interval;

record! {
    #[const_default]
    /// Flow and pressure over the quiet end of an expiration.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub struct EndExpiration {
        /// How long the quiet lasted: of the last eight blocks of about 50 ms, those that were quiet.
        pub span: Duration,
        /// Mean flow at the sensor: the leak at baseline pressure.
        pub flow: Flow,
        /// Mean of the flow less the modelled leak: what the model leaves unexplained.
        pub residual: Flow,
        /// How far the mean flow of its last block lies from that of its first, either way: what is left
        /// of the expiration.
        pub tail: Flow,
        /// Mean flow of its last block.
        pub last: Flow,
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

impl EndExpiration {
    /// A shorter quiet may still be the tail of the expiration. Chosen here, no source.
    pub(crate) const LONG_ENOUGH: Duration = Duration::from_millis(150);

    /// How far the flow strays from its mean, either way: what ripple reaches above is cut off by
    /// the trigger just when it matters, what it reaches below is not.
    pub(crate) fn reach(&self) -> Flow {
        let above = self.high.saturating_sub(self.flow).value;
        above.max(self.flow.saturating_sub(self.low).value)
    }
}

const BLOCKS: usize = 8;
/// What counts as still. Chosen here, no source.
const STILL_FLOW: Flow = Flow::from_milli(500).value;
/// No reading of a flow that stands still lies further from another: told without a divide.
const NOISE: Flow = Flow::from_int(8);
const STILL_TREND: Flow = Flow::from_milli(300).value;
const STILL_PRESSURE: Pressure = Pressure::from_milli(300).value;
/// How far below and above the baseline.
const NEAR: [Pressure; 2] = [Pressure::from_milli(-1_500).value, Pressure::from_milli(800).value];
/// Bubbles swing less far above their mean. Chosen here, no source.
const BUBBLE: Pressure = Pressure::from_int(1);
const BLOCK: Duration = Duration::from_millis(50);

record! {
    #[const_default]
    /// The last 400 ms in blocks of 50 ms, so that a turn found late can look at what was before it.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Tail {
        blocks: Ring<Block, BLOCKS>,
        open: Block,
    }
}

record! {
    #[const_default]
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    struct Block {
        start: Instant,
        end: Instant,
        count: u32,
        /// The first flow, and the others' distance from it summed and squared.
        first: Flow,
        apart: Wide<MlPerS>,
        squares: Squares<MlPerS>,
        lung: Wide<MlPerS>,
        pressure: Wide<CmH2O>,
        low: Flow,
        high: Flow,
    }
}

/// Of one block.
#[derive(Clone, Copy)]
struct Means {
    flow: Flow,
    pressure: Pressure,
}

impl Means {
    /// Whether another block has the same flow but for this, and the same pressure.
    fn are_like(self, other: &Block, apart: Flow) -> bool {
        self.flow.apart(other.mean()) <= apart.magnitude()
            && self.pressure.apart(other.mean_pressure()) <= STILL_PRESSURE.magnitude()
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
        self.lung.put(interval.to.lung.widened());
        self.pressure.put(interval.to.pressure.widened());
        let apart = self.first.away(flow);
        self.apart.put(apart);
        self.squares = self.squares.saturating_add(apart.squared());
        self.low = self.low.min(flow);
        self.high = self.high.max(flow);
    }

    fn join(&mut self, earlier: &Self) {
        self.start = earlier.start;
        self.moved_to(earlier.first);
        self.count = self.count.saturating_add(earlier.count);
        self.lung = self.lung.saturating_add(earlier.lung);
        self.pressure = self.pressure.saturating_add(earlier.pressure);
        self.apart = self.apart.saturating_add(earlier.apart);
        self.squares = self.squares.saturating_add(earlier.squares);
        self.low = self.low.min(earlier.low);
        self.high = self.high.max(earlier.high);
    }

    /// States the distances from another first flow.
    fn moved_to(&mut self, first: Flow) {
        let by = first.away(self.first);
        (self.apart, self.squares) = self.squares.moved(self.count, self.apart, by);
        self.first = first;
    }

    /// Mean flow at the sensor.
    fn mean(&self) -> Flow {
        self.first.saturating_add(self.apart.mean(self.count)).value
    }

    /// Mean pressure.
    fn mean_pressure(&self) -> Pressure {
        self.pressure.mean(self.count)
    }

    /// Mean flow at the sensor and mean pressure.
    fn means(&self) -> Means {
        Means { flow: self.mean(), pressure: self.mean_pressure() }
    }

    fn is_quiet(&self, limit: Flow) -> bool {
        self.count > 0 && self.lung.mean_is_within(self.count, limit)
    }
}

/// How far four values in a row lie apart, how far the mean of the first two lies from that of the others,
/// and the mean of all.
#[inline(never)]
fn course<U: Unit>(values: [Quantity<U>; 4]) -> [Quantity<U>; 3] {
    let [a, b, c, d] = values;
    let (least, most) = (a.min(b).min(c.min(d)), a.max(b).max(c.max(d)));
    let (early, late) = (a.middle(b), c.middle(d));
    let trend = late.saturating_sub(early).value.saturating_abs();
    [most.saturating_sub(least).value, trend, early.middle(late)]
}

impl Tail {
    /// Nothing lies before.
    pub(super) fn clear(&mut self) {
        self.blocks.clear();
        self.open = Block::default();
    }

    /// Takes the later end of an interval.
    pub(super) fn push(&mut self, interval: &Interval) {
        if self.open.count > 0 && interval.at.since(self.open.start) >= BLOCK {
            self.blocks.push(self.open);
            self.open = Block::default();
        }
        self.open.add(interval);
    }

    /// Whether a block has just begun.
    pub(super) const fn begins_block(&self) -> bool {
        self.open.count == 1
    }

    /// How far a flow that stands still may differ between blocks: 0.5 mL/s, and a 32nd of the `peak` of a
    /// usual breath at most.
    pub(super) fn apart(peak: Flow) -> Flow {
        STILL_FLOW.min(peak.halved(5))
    }

    /// Mean flow at the sensor and pressure of the last four blocks, where both stood still: the flow
    /// but for [`apart`](Self::apart) and with no trend above 0.3 mL/s; the pressure within 0.3 cmH2O and
    /// near the `baseline`.
    ///
    /// A half sine stands as still at its peak if it lasts 0.9 s.
    pub(super) fn still(&self, baseline: Pressure, peak: Flow) -> Option<(Flow, Pressure)> {
        let mut last = self.blocks.iter().rev();
        let (mut low, mut high) = (Flow::MAX, Flow::MIN);
        let mut next = || {
            let block = last.next()?;
            (low, high) = (low.min(block.low), high.max(block.high));
            (high.saturating_sub(low).value <= NOISE).then_some(block)
        };
        let four = [next()?, next()?, next()?, next()?];
        let [moved, trend, flow] = course(four.map(Block::mean));
        let [swing, _, pressure] = course(four.map(Block::mean_pressure));
        let above = pressure.saturating_sub(baseline).value;
        let stands = moved <= Self::apart(peak)
            && trend <= STILL_TREND
            && swing <= STILL_PRESSURE
            && above <= NEAR[1]
            && above >= NEAR[0];
        stands.then_some((flow, pressure))
    }

    /// The mean pressure of the last four blocks, where it swung by 0.3 cmH2O and rose no more than 1 cmH2O
    /// above that: bubbles move it, no inflation.
    pub(super) fn swings_about(&self) -> Option<Pressure> {
        let mut last = self.blocks.iter().rev().map(Block::mean_pressure);
        let mut next = || last.next();
        let four = [next()?, next()?, next()?, next()?];
        let [swing, _, mean] = course(four);
        let high = four.into_iter().fold(Pressure::MIN, Pressure::max);
        let above = high.saturating_sub(mean).value;
        (swing > STILL_PRESSURE && above <= BUBBLE).then_some(mean)
    }

    /// Whether the model calls the last block quiet.
    pub(super) fn is_quiet(&self, limit: Flow) -> bool {
        self.blocks.iter().next_back().is_some_and(|block| block.is_quiet(limit))
    }

    /// The quiet stretch that ends at `until`: block by block backwards as long as the mean flow
    /// into the lung stays within `limit`. `None` where not one block is quiet.
    pub(super) fn quiet(&self, until: Instant, limit: Flow) -> Option<EndExpiration> {
        let ended = self.blocks.iter().rev().filter(|block| block.end <= until);
        joined(ended.take_while(|block| block.is_quiet(limit)))
    }

    /// The flat stretch that a rise of the flow ended, where that was after `onset`: the model called
    /// gas that leaks in a breath. Two blocks and more whose flow differs by no more than `apart`, and
    /// whose pressure stands still.
    pub(super) fn flat_after(&self, onset: Instant, apart: Flow) -> Option<EndExpiration> {
        let mut rest = self.blocks.iter().rev();
        let (mut rise, mut last) = (rest.next()?.mean(), rest.next()?);
        while last.end > onset {
            let (earlier, means) = (rest.next()?, last.means());
            if means.are_like(earlier, apart) {
                let rose = rise > means.flow.saturating_add(apart).value;
                let alike = rest.take_while(|block| means.are_like(block, apart));
                let flat = || joined([last, earlier].into_iter().chain(alike));
                return rose.then(flat).flatten();
            }
            (rise, last) = (means.flow, earlier);
        }
        None
    }
}

/// The stretch of blocks that come the latest first; `None` without one.
fn joined<'a>(mut blocks: impl Iterator<Item = &'a Block>) -> Option<EndExpiration> {
    let latest = blocks.next()?;
    let (mut block, mut earliest) = (*latest, latest);
    for earlier in blocks {
        earliest = earlier;
        block.join(earlier);
    }
    Some(told(&block, earliest, latest))
}

/// What a stretch from its earliest to its latest block shows.
#[inline(never)]
fn told(block: &Block, earliest: &Block, latest: &Block) -> EndExpiration {
    let (first, last) = (earliest.mean(), latest.mean());
    let fell = last.saturating_sub(first).value;
    EndExpiration {
        span: block.end.since(block.start),
        flow: block.mean(),
        tail: fell.saturating_abs(),
        last,
        residual: block.lung.mean(block.count),
        spread: block.squares.spread(block.count, block.apart),
        low: block.low,
        high: block.high,
        pressure: block.mean_pressure(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::End;

    /// Flows in thousandths at 100 Hz by number, at a pressure.
    fn tail(count: u16, pressure: i16, flow: impl Fn(i32) -> i32) -> Tail {
        let mut tail = Tail::default();
        let end = |n| {
            let flow = Flow::from_milli(flow(n)).value;
            let pressure = Pressure::from_int(pressure);
            End { flow, lung: flow, pressure, tip: pressure }
        };
        for n in 0..count {
            let (n, at) = (i32::from(n), Instant::from_us(u64::from(n) * 10_000));
            let span = Duration::from_millis(10);
            tail.push(&Interval { at, span, from: end(n), to: end(n), ..Interval::default() });
        }
        tail
    }

    /// What stands still at a baseline of 5 cmH2O beside breaths of 30 mL/s.
    fn still(tail: &Tail) -> Option<(i32, i32)> {
        let (flow, pressure) = tail.still(Pressure::from_int(5), Flow::from_int(30))?;
        let milli = |x: f64| (x * 1e3).round() as i32;
        Some((milli(flow.to_f64()), milli(pressure.to_f64())))
    }

    #[test]
    fn a_flow_that_stands_for_two_hundred_milliseconds_is_still() {
        // Blocks of five readings: the twenty-first ends the fourth. Noise of 0.2 either way on 3: a block
        // has one more of one kind, 0.04 off, and two in a row cancel.
        let noisy = |n: i32| 3_000 + if n % 2 == 0 { 200 } else { -200 };
        assert_eq!(still(&tail(21, 5, noisy)), Some((3_000, 5_000)));
        assert_eq!(still(&tail(20, 5, noisy)), None, "the fourth block is still open");
        // 2 mL/s in 200 ms: block means 0.5 apart, 1.5 from the first to the last.
        assert_eq!(still(&tail(21, 5, |n| 3_000 + 100 * n)), None);
        // 3 cmH2O above the baseline an inflation stands.
        assert_eq!(still(&tail(21, 8, noisy)), None);
    }

    #[test]
    fn a_flat_stretch_before_a_rise_is_a_quiet_end_though_the_onset_was_before_it() {
        // 4 mL/s for 0.3 s, called a breath from 0.05 s on; from there up by 1 mL/s each 10 ms.
        let risen = tail(43, 5, |n| if n < 30 { 4_000 } else { 4_000 + 1_000 * (n - 29) });
        let flat = |onset| risen.flat_after(Instant::from_us(onset), Flow::from_milli(500).value);
        let quiet = flat(50_000).unwrap();
        assert_eq!((quiet.flow, quiet.tail), (Flow::from_int(4), Flow::ZERO));
        // Six blocks of five readings: from the first to 0.29 s.
        assert_eq!(quiet.span, Duration::from_millis(290));
        // An onset at the rise has its quiet end before it.
        assert_eq!(flat(300_000), None);
    }

    #[test]
    fn a_pressure_that_swings_about_its_baseline_is_told_from_one_that_stands_or_inflates() {
        // Thousandths of cmH2O at 100 Hz: blocks of five readings, the twenty-first ends the fourth.
        let about = |pressure: fn(i32) -> i32| {
            let mut tail = Tail::default();
            for n in 0..21 {
                let pressure = Pressure::from_milli(pressure(n)).value;
                let end = End { pressure, ..End::default() };
                let at = Instant::from_us(u64::from(n.cast_unsigned()) * 10_000);
                tail.push(&Interval { at, from: end, to: end, ..Interval::default() });
            }
            tail.swings_about()
        };
        // Block means of 5.2 and 4.8, 0.4 apart, about 5; then of 5.1 and 4.9.
        let mean = Some(Pressure::from_int(5));
        assert_eq!(about(|n| if n / 5 % 2 == 0 { 5_200 } else { 4_800 }), mean);
        assert_eq!(about(|n| if n / 5 % 2 == 0 { 5_100 } else { 4_900 }), None);
        // Just 0.3 apart stand still: in 65,536ths 347,341 less 327,680 are 19,661.
        assert_eq!(about(|n| if n / 5 % 2 == 0 { 5_300 } else { 5_000 }), None);
        assert!(about(|n| if n / 5 % 2 == 0 { 5_301 } else { 5_000 }).is_some());
        // An inflation falls from 7.1, which is 1.6 above the mean of (7.1 + 3 * 5) / 4 = 5.5; a third of that
        // height counts as a bubble's: 5.7 lies 0.5 above 5.2.
        assert_eq!(about(|n| if n < 5 { 7_100 } else { 5_000 }), None);
        assert!(about(|n| if n < 5 { 5_700 } else { 5_000 }).is_some());
    }

    #[test]
    fn readings_just_as_far_apart_as_noise_reaches_still_stand_still() {
        // In each block of five one up, one down, three at 3 mL/s: all means are 3. By 4 either way 8 lie between
        // them, which noise reaches; by a thousandth more it does not.
        let swing = |by: i32| {
            let tail = tail(21, 5, |n| 3_000 + [by, -by, 0, 0, 0][n as usize % 5]);
            still(&tail)
        };
        assert_eq!((swing(4_000), swing(4_001)), (Some((3_000, 5_000)), None));
    }

    #[test]
    fn the_quiet_end_tells_how_far_its_flow_strays_either_way() {
        // 2 mL/s, in the first block once 3 and once 1.5, in the second once 2.75 and once 0.75.
        let flow = |n: i32| match n {
            1 => 3_000,
            2 => 1_500,
            6 => 2_750,
            7 => 750,
            _ => 2_000,
        };
        let tail = tail(11, 5, flow);
        let quiet = tail.quiet(Instant::from_us(100_000), Flow::from_int(4)).unwrap();
        let milli = |flow: Flow| (flow.to_f64() * 1e3).round() as i32;
        assert_eq!((milli(quiet.low), milli(quiet.high)), (750, 3_000));
        // The mean is (10 * 2 + 1 - 0.5 + 0.75 - 1.25) / 10 = 2: it reaches 1 above, 1.25 below.
        assert_eq!((milli(quiet.flow), milli(quiet.reach())), (2_000, 1_250));
    }

    #[test]
    fn no_block_stands_before_the_first_reading() {
        // From 1 s on, at rest: nineteen readings fill three blocks of five, and a fourth is open.
        let mut tail = Tail::default();
        for n in 0..19 {
            let at = Instant::from_us(1_000_000 + n * 10_000);
            tail.push(&Interval { at, ..Interval::default() });
        }
        assert_eq!(tail.still(Pressure::ZERO, Flow::from_int(30)), None);
        for n in 19..21 {
            let at = Instant::from_us(1_000_000 + n * 10_000);
            tail.push(&Interval { at, ..Interval::default() });
        }
        let rest = Some((Flow::ZERO, Pressure::ZERO));
        assert_eq!(tail.still(Pressure::ZERO, Flow::from_int(30)), rest);
    }

    #[test]
    fn a_course_is_told_by_all_four() {
        // From 1 to 9 are 8; two and two have the same mean, 5.
        for values in [[5, 5, 9, 1], [5, 5, 1, 9], [9, 1, 5, 5], [1, 9, 5, 5]] {
            assert_eq!(course(values.map(Flow::from_int)), [8, 0, 5].map(Flow::from_int));
        }
        assert_eq!(course([2, 4, 6, 8].map(Flow::from_int)), [6, 4, 5].map(Flow::from_int));
    }
}
