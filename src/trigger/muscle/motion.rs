//! The terms of the equation of motion, learned from this infant's inflations.

use super::block::{Block, LENGTH};
use crate::breath::Breath;
use crate::quantity::arith::{self, MotionMoments, MotionSums, MotionTerms};
use crate::quantity::{Duration, Pressure, Volume};
use crate::record;

record! {
    #[const_default]
    /// What some sixteen inflations say of the terms.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Motion {
        /// Of the stretch under way: P0 is its own.
        sums: MotionSums,
        /// Of this breath's stretches so far.
        breath: MotionMoments,
        memory: MotionMoments,
        terms: MotionTerms,
        /// What an inflation usually moves and how far it usually rises.
        volume: Volume,
        rise: Pressure,
        breaths: u8,
        /// How far the flow lags behind the pressure.
        lag: Option<Duration>,
    }
}

record! {
    #[const_default]
    /// Of a breath that has ended: its last stretch, and those before.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct SeenMotion {
        before: MotionMoments,
        sums: MotionSums,
        /// It holds something.
        held: bool,
    }
}

impl SeenMotion {
    /// Nothing was seen.
    pub(super) fn forget(&mut self) {
        *self = Self::default();
    }

    /// Its last stretch, too, as moments. Seven 64-bit divides.
    pub(super) fn join(&mut self) {
        joined(&mut self.before, &self.sums);
        self.sums = MotionSums::default();
    }
}

/// So many inflations make the terms worth asking. Chosen here, no source.
const ENOUGH: u8 = 4;
/// Of the expiration so much teaches: after it little flows.
pub(super) const EMPTYING: Duration = Duration::from_millis(400);

impl Motion {
    /// Takes a block into the stretch under way.
    pub(super) fn add(&mut self, block: &Block, before: &Block) {
        arith::motion_point(&mut self.sums, block.after(before));
    }

    /// The stretch under way ends: inspiration and expiration may differ in P0. Seven 64-bit divides.
    pub(super) fn end_stretch(&mut self) {
        joined(&mut self.breath, &self.sums);
        self.sums = MotionSums::default();
    }

    /// The breath ends: what was seen of it.
    pub(super) fn end_breath(&mut self, seen: &mut SeenMotion) {
        if core::mem::replace(&mut seen.held, true) {
            // Of a breath that was not learned from.
            (seen.before, seen.sums) = (MotionMoments::default(), MotionSums::default());
        }
        core::mem::swap(&mut seen.before, &mut self.breath);
        core::mem::swap(&mut seen.sums, &mut self.sums);
    }

    /// Learns what was seen of a trusted inflation. Three 64-bit divides.
    pub(super) fn learn(&mut self, seen: &SeenMotion, breath: &Breath) {
        let (volume, rise) =
            (breath.inspired.value, breath.peak.saturating_sub(breath.baseline).value);
        let rise = rise.max(LEAST_RISE);
        (self.volume, self.rise) = match self.breaths {
            0 => (volume, rise),
            _ => (self.volume.lowpass(volume, 3), self.rise.lowpass(rise, 3)),
        };
        self.memory = arith::motion_faded(&self.memory, &seen.before);
        let prior = self.volume.motion_prior(self.rise);
        let from = if self.breaths == 0 { prior.0 } else { self.terms };
        self.terms = arith::motion_terms(&self.memory, from, prior);
        self.breaths = self.breaths.saturating_add(1);
    }

    /// Learns by how much flow lags behind pressure.
    #[inline(never)]
    pub(super) fn learn_lag(&mut self) {
        let block = LENGTH.to_short_us().value;
        self.lag = arith::motion_lag(&self.memory, block)
            .map(|us| Duration::from_us(us.max(0).unsigned_abs().into()));
    }

    /// Whether the terms are worth asking.
    pub(super) const fn is_known(&self) -> bool {
        self.breaths >= ENOUGH
    }

    /// How far the flow lags behind the pressure; `None` as long as that is not known. The inertance of the
    /// gas counts as a part of it.
    pub(super) const fn lag(&self) -> Option<Duration> {
        if self.is_known() { self.lag } else { None }
    }

    /// What a block leaves over.
    pub(super) fn left(&self, block: &Block, before: &Block) -> Pressure {
        Pressure::motion_left(self.terms, block.after(before))
    }
}

/// With what a stretch says.
fn joined(moments: &mut MotionMoments, sums: &MotionSums) {
    if let Some(more) = arith::motion_moments(sums) {
        arith::motion_join(moments, &more);
    }
}

/// No inflation rises less.
const LEAST_RISE: Pressure = Pressure::from_int(2);

#[cfg(test)]
mod tests {
    use super::*;

    /// What was seen of a breath that nothing was learned of is not the next one's.
    #[test]
    fn what_was_not_learned_is_forgotten() {
        let block = |flow| Block { flow, pressure: 3, volume: 7, ..Block::default() };
        let (mut motion, mut seen) = (Motion::default(), SeenMotion::default());
        motion.add(&block(1_000), &block(0));
        motion.end_breath(&mut seen);
        motion.add(&block(5), &block(1));
        motion.end_breath(&mut seen);
        let mut alone = Motion::default();
        alone.add(&block(5), &block(1));
        assert_eq!(seen.sums, alone.sums);
        // Nor is anything of it left in what comes now.
        motion.add(&block(9), &block(2));
        alone = Motion::default();
        alone.add(&block(9), &block(2));
        assert_eq!((motion.sums, motion.breath), (alone.sums, alone.breath));
    }
}
