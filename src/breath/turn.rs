//! Finds where the flow turns: a cumulative sum that must outgrow noise.
//!
//! The sum collects the volume that flows the new way beyond a small level and is never negative
//! (E. S. Page, "Continuous inspection schemes", Biometrika 41:100-115, 1954). It confirms a turn
//! when it reaches the volume that noise cannot reach; the turn is then dated back to where the
//! flow last crossed a quarter of the level, if it rose to the level from there within 40 ms.
//! Heartbeat ripple and noise come and go and bring the sum back to zero.

use super::integral::{Slice, Sums};
use crate::quantity::{Flow, Moment, Span, arith};
use crate::record;

/// How long the flow may creep up to the level and still count as the turn's beginning.
const CREEP: Span = Span::from_millis(40);

record! {
    /// A turn that may be under way.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Turn {
        active: bool,
        /// The flow went back below the foot since.
        below: bool,
        /// Doubled area beyond the level, never negative.
        sum: i64,
        edge: Edge,
        since: Sums,
    }
}

record! {
    /// The interval in which the flow crossed the foot, a quarter of the level.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    struct Edge {
        slice: Slice,
        /// Flow into the lung the new way beyond the foot: not above zero, then above.
        from: i32,
        to: i32,
        start: Moment,
    }
}

/// A turn that was confirmed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Turned {
    pub(super) at: Moment,
    /// The part of the crossing interval that belongs to the old way.
    pub(super) before: Slice,
    /// All since the crossing.
    pub(super) since: Sums,
}

/// What an interval meant for the turn.
pub(super) enum Outcome {
    /// No turn under way: the interval belongs to the old way.
    None,
    /// A turn is under way; the interval is held.
    Held,
    /// It came to nothing: what was held, this interval included, belongs to the old way.
    Fell(Sums),
    /// The flow went back and came again: what was held belongs to the old way, this interval is
    /// the first of a new hold.
    Again(Sums),
    /// Confirmed.
    Turned(Turned),
}

/// Flow into the lung the new way at both ends of an interval, and what it must exceed.
#[derive(Clone, Copy)]
pub(super) struct Way {
    pub(super) from: Flow,
    pub(super) to: Flow,
    pub(super) level: Flow,
}

impl Turn {
    /// Takes an interval; `needed` is the doubled area that confirms a turn.
    pub(super) fn step(
        &mut self,
        slice: &Slice,
        start: Moment,
        way: Way,
        needed: impl FnOnce() -> i64,
    ) -> Outcome {
        let level = way.level.to_bits();
        let area =
            arith::trapezoid_over(way.from.to_bits(), way.to.to_bits(), level, slice.span_us);
        let foot = way.level.halved(2);
        if !self.active {
            if way.to <= foot {
                return Outcome::None;
            }
            self.begin(slice, start, way, foot);
            self.sum = area.max(0);
        } else {
            self.sum = arith::accumulate(self.sum, area).value.max(0);
            if self.below && way.to > foot {
                let sum = self.sum;
                let fallen = self.drop();
                self.begin(slice, start, way, foot);
                self.sum = sum;
                return Outcome::Again(fallen);
            }
            self.below = way.to <= foot;
            self.since.add(slice);
            if self.sum == 0 && (self.below || self.since.span() > CREEP) {
                return Outcome::Fell(self.drop());
            }
        }
        if self.sum < needed() { Outcome::Held } else { Outcome::Turned(self.confirm()) }
    }

    fn begin(&mut self, slice: &Slice, start: Moment, way: Way, foot: Flow) {
        let beyond = |flow: Flow| flow.saturating_sub(foot).value.to_bits();
        let (from, to) = (beyond(way.from).min(0), beyond(way.to));
        let edge = Edge { slice: *slice, from, to, start };
        *self = Self { active: true, edge, ..Self::default() };
    }

    /// Whether no turn is under way.
    pub(super) fn is_idle(&self) -> bool {
        !self.active
    }

    /// Lets time pass over which nothing is known; whether a turn was under way to take it.
    pub(super) fn wait(&mut self, span: Span) -> bool {
        if self.active {
            self.since.wait(span);
        }
        self.active
    }

    /// Gives back what was held.
    pub(super) fn drop(&mut self) -> Sums {
        let mut held = self.since;
        if self.active {
            held.add(&self.edge.slice);
        }
        *self = Self::default();
        held
    }

    fn confirm(&mut self) -> Turned {
        let Edge { slice, from, to, start } = self.edge;
        let (before, after) = slice.split(arith::crossing(from, to, 0));
        let mut since = self.since;
        since.add(&after);
        *self = Self::default();
        Turned { at: start.after(Span::from_us(arith::widen_u32(before.span_us))), before, since }
    }
}
