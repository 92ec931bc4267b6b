//! Finds where the flow turns: a cumulative sum that must outgrow noise.
//!
//! The sum collects the volume that flows the new way beyond a small level and is never negative
//! (E. S. Page, "Continuous inspection schemes", Biometrika 41:100-115, 1954). It confirms a turn
//! when it reaches the volume that noise cannot reach; the turn is then dated back to where the
//! flow last crossed a quarter of the level, if it rose to the level from there within 40 ms.
//! Heartbeat ripple and noise come and go and bring the sum back to zero.

use super::Totals;
use crate::quantity::{Flow, Moment, Span, arith};
use crate::record;
use crate::signal::Interval;

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
    }
}

record! {
    /// The interval in which the flow crossed the foot, a quarter of the level.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    struct Edge {
        interval: Interval,
        /// Flow into the lung the new way beyond the foot: not above zero, then above.
        from: i32,
        to: i32,
        /// The totals at its end.
        after: Totals,
    }
}

/// A turn that was confirmed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Turned {
    pub(super) at: Moment,
    /// The totals at the crossing, for what ended there and for what began. Where a crossing is
    /// interpolated each part rounds by itself.
    pub(super) ended: Totals,
    pub(super) began: Totals,
}

/// What an interval meant for the turn.
pub(super) enum Outcome {
    /// No turn under way: the interval belongs to the old way.
    None,
    /// A turn is under way; the interval is held.
    Held,
    /// It came to nothing: what was held, this interval included, belongs to the old way.
    Fell,
    /// The flow went back and came again: what was held belongs to the old way, this interval is
    /// the first of a new hold.
    Again,
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
    /// Takes an interval and the totals at its end; `needed` is the doubled area that
    /// confirms a turn.
    pub(super) fn step(
        &mut self,
        interval: &Interval,
        totals: &Totals,
        way: Way,
        needed: impl FnOnce() -> i64,
    ) -> Outcome {
        let us = interval.span.to_short_us().value;
        let level = way.level.to_bits();
        let area = arith::trapezoid_over(way.from.to_bits(), way.to.to_bits(), level, us);
        let foot = way.level.halved(2);
        let begin = |sum| {
            let beyond = |flow: Flow| flow.saturating_sub(foot).value.to_bits();
            let (from, to) = (beyond(way.from).min(0), beyond(way.to));
            let edge = Edge { interval: *interval, from, to, after: *totals };
            Self { active: true, edge, sum, below: false }
        };
        if !self.active {
            if way.to <= foot {
                return Outcome::None;
            }
            *self = begin(area.max(0));
        } else {
            self.sum = arith::accumulate(self.sum, area).value.max(0);
            if self.below && way.to > foot {
                *self = begin(self.sum);
                return Outcome::Again;
            }
            self.below = way.to <= foot;
            let lasted = totals.span().saturating_sub(self.edge.after.span());
            if self.sum == 0 && (self.below || lasted > CREEP) {
                self.drop();
                return Outcome::Fell;
            }
        }
        if self.sum < needed() { Outcome::Held } else { Outcome::Turned(self.confirm()) }
    }

    /// Whether no turn is under way.
    pub(super) const fn is_idle(&self) -> bool {
        !self.active
    }

    /// The totals before the turn under way.
    pub(super) fn before(&self) -> Option<Totals> {
        self.active.then(|| self.edge.after.minus(&self.edge.interval))
    }

    /// Nothing turned.
    pub(super) fn drop(&mut self) {
        *self = Self::default();
    }

    fn confirm(&mut self) -> Turned {
        let Edge { interval, from, to, after } = self.edge;
        let (old, new) = interval.split(arith::crossing(from, to, 0));
        self.drop();
        Turned { at: old.at, ended: after.minus(&interval).plus(&old), began: after.minus(&new) }
    }
}
