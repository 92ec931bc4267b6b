//! Flow into the lung, pressure and volume in blocks of 20 ms.

use crate::breath::Totals;
use crate::quantity::unit::{CmH2O, MlPerS};
use crate::quantity::{Area, Duration, Instant, Pressure, Ring, Wide};
use crate::record;
use crate::signal::Interval;

/// How many are kept: an onset is found some 100 ms late, and asks for the 180 ms before it.
const KEPT: usize = 16;
pub(super) const LENGTH: Duration = Duration::from_millis(20);

record! {
    #[const_default]
    /// One block: means of flow into the lung (mL/s) and pressure (cmH2O), and the volume at its end (mL),
    /// with 12 fraction bits.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Block {
        pub(super) at: Instant,
        pub(super) flow: i32,
        pub(super) pressure: i32,
        pub(super) volume: i32,
    }
}

impl Block {
    /// The pressure.
    pub(super) fn pressure(&self) -> Pressure {
        Pressure::of_coarse(self.pressure, 4)
    }

    /// Flow, its change since the block before, volume and pressure.
    pub(super) const fn after(&self, before: &Self) -> [i32; 4] {
        [self.flow, self.flow.saturating_sub(before.flow), self.volume, self.pressure]
    }
}

record! {
    #[const_default]
    /// The last blocks, and the one under way.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Blocks {
        last: Ring<Block, KEPT>,
        before: Block,
        latest: Block,
        since: Option<Instant>,
        count: u32,
        flow: Wide<MlPerS>,
        pressure: Wide<CmH2O>,
        /// The total of flow into the lung from which volume counts.
        begun: Area<MlPerS>,
    }
}

impl Blocks {
    /// Takes the later end of an interval, with the totals there; whether it ended a block.
    pub(super) fn step(&mut self, interval: &Interval, totals: &Totals) -> bool {
        let since = *self.since.get_or_insert(interval.start());
        self.count = self.count.saturating_add(1);
        self.flow.put(interval.to.lung.widened());
        self.pressure.put(interval.to.pressure.widened());
        if interval.at.since(since) < LENGTH {
            return false;
        }
        self.end(interval.at, totals);
        true
    }

    #[inline(never)]
    fn end(&mut self, at: Instant, totals: &Totals) {
        if self.last.is_empty() {
            self.begun = totals.lung_area();
        }
        let volume = totals.lung_area().wrapping_sub(self.begun).coarse();
        let flow = self.flow.coarse_mean(self.count);
        let pressure = self.pressure.coarse_mean(self.count);
        let block = Block { at, flow, pressure, volume: volume.value };
        self.before = core::mem::replace(&mut self.latest, block);
        self.last.push(block);
        (self.since, self.count) = (Some(at), 0);
        (self.flow, self.pressure) = (Wide::ZERO, Wide::ZERO);
    }

    /// Counts volume from the end of the last block on.
    pub(super) fn count_afresh(&mut self) {
        let moved = self.latest.volume;
        self.begun = self.begun.wrapping_add(Area::of_coarse(moved));
        let less = |block: &mut Block| block.volume = block.volume.saturating_sub(moved);
        self.last.update(less);
        less(&mut self.latest);
    }

    /// Nothing is known of what was before.
    pub(super) fn forget(&mut self) {
        // In place: the whole would be built on the stack.
        let Self { last, before, latest, since, count, flow, pressure, begun } = self;
        last.clear();
        (*before, *latest) = (Block::default(), Block::default());
        (*since, *count) = (None, 0);
        (*flow, *pressure, *begun) = (Wide::ZERO, Wide::ZERO, Area::ZERO);
    }

    /// Does something with each of the last blocks, after the one before it.
    pub(super) fn for_pairs(&self, mut each: impl FnMut(&Block, &Block)) {
        let mut before = None;
        self.last.iter().for_each(|block| {
            if let Some(before) = before.replace(block) {
                each(before, block);
            }
        });
    }

    /// The one before the latest, and the latest; `None` before there were two.
    pub(super) const fn latest(&self) -> Option<(Block, Block)> {
        if self.last.len() < 2 { None } else { Some((self.before, self.latest)) }
    }
}
