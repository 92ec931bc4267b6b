//! Finds where the flow turns: a cumulative sum that must outgrow noise.
//!
//! The sum collects the volume that flows the new way beyond a small level and is never negative
//! (E. S. Page, "Continuous inspection schemes", Biometrika 41:100-115, 1954). It confirms a turn
//! when it reaches the volume that noise cannot reach; the turn is then dated back to where the
//! flow last crossed a quarter of the level, if it rose to the level from there within 40 ms.
//! Heartbeat ripple and noise come and go and bring the sum back to zero. Where the pressure swings too
//! (bubbles), gas does move with each swing: what came at an earlier crossing no more than 145 ms ago, and of which
//! an eighth of what confirms a turn has not gone back since, is the beginning of the turn. Two earlier crossings
//! are remembered: where the first lies too long ago, the second may serve.

use super::{PhaseIntegrals, Totals};
use crate::quantity::unit::MlPerS;
use crate::quantity::{Area, Duration, Flow, Instant, Share};
use crate::record;
use crate::signal::Interval;

/// How long the flow may creep up to the level and still count as the turn's beginning.
const CREEP: Duration = Duration::from_millis(40);
/// How long ago an earlier crossing may lie: from one bubble of 7 a second to the next. Chosen here, no
/// source.
const MOMENT_AGO: Duration = Duration::from_millis(145);

record! {
    #[const_default]
    /// A turn that may be under way.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct FlowReversal {
        active: bool,
        /// The flow went back below the foot since.
        below: bool,
        /// The sum came to nothing, and what came is still there.
        waits: bool,
        /// What flowed beyond the level, never negative.
        sum: Area<MlPerS>,
        first: Crossing,
        /// A later one, while the first still is the beginning.
        second: Option<Crossing>,
    }
}

record! {
    #[const_default]
    /// The interval in which the flow crossed the foot, a quarter of the level.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    struct Crossing {
        interval: Interval,
        /// Flow into the lung the new way beyond the foot, in steps: not above zero, then above.
        from: i32,
        to: i32,
        /// The totals at its end.
        after: Totals,
        /// What went the new way since, less what came back.
        net: Area<MlPerS>,
    }
}

impl Crossing {
    fn new(interval: &Interval, totals: &Totals, way: Way, moved: Area<MlPerS>) -> Self {
        let beyond = |flow: Flow| flow.saturating_sub(way.foot()).value.to_bits();
        Self {
            interval: *interval,
            from: beyond(way.from).min(0),
            to: beyond(way.to),
            after: *totals,
            net: moved.max(Area::ZERO),
        }
    }

    fn add(&mut self, moved: Area<MlPerS>) {
        self.net = self.net.plus(moved).value;
    }

    fn lasted(&self, totals: &Totals) -> Duration {
        totals.span().saturating_sub(self.after.span())
    }

    /// No longer than a moment ago, and more of what came is still there.
    fn stays(&self, totals: &Totals, least: Area<MlPerS>) -> bool {
        self.lasted(totals) <= MOMENT_AGO && self.net > least
    }
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
    /// It came to nothing a moment ago, and what came then is part of what comes now.
    Resumed,
    /// Confirmed: to be [taken out](FlowReversal::confirm) next.
    Turned,
}

/// Flow into the lung the new way at both ends of an interval, and what it must exceed.
#[derive(Clone, Copy)]
pub(super) struct Way {
    pub(super) from: Flow,
    pub(super) to: Flow,
    pub(super) level: Flow,
}

impl Way {
    fn foot(&self) -> Flow {
        self.level.halved(2)
    }
}

impl FlowReversal {
    /// Takes an interval and the totals at its end; `needed` is what confirms a turn,
    /// `swings` whether the pressure swings.
    pub(super) fn step(
        &mut self,
        interval: &Interval,
        totals: &Totals,
        way: Way,
        needed: impl Fn() -> Area<MlPerS>,
        swings: impl FnOnce() -> bool,
    ) -> Outcome {
        let (was_idle, came) = (self.is_idle(), way.to > way.foot());
        if was_idle && !came {
            return Outcome::None;
        }
        let us = interval.span.to_short_us().value;
        let moved = way.from.ramp(way.to, us);
        let crosses = came && (was_idle || self.below || self.waits);
        let stays = |held: &mut Self| held.stays(totals, needed().fraction(3)) && swings();
        let begins = crosses && (was_idle || !stays(self));
        self.first.add(moved);
        if let Some(second) = &mut self.second {
            second.add(moved);
        }
        if crosses {
            let crossing = Crossing::new(interval, totals, way, moved);
            if begins {
                (self.first, self.second) = (crossing, None);
            } else if self.second.is_none() {
                self.second = Some(crossing);
            }
        }
        (self.active, self.below) = (true, !came);
        self.waits &= !came;
        let area = way.from.ramp_above(way.to, way.level, us);
        self.sum = if self.waits { Area::ZERO } else { self.sum.plus(area).value.max(Area::ZERO) };
        if begins && !was_idle {
            return Outcome::Again;
        }
        let crept = || self.below || self.first.lasted(totals) > CREEP;
        if !crosses && self.sum == Area::ZERO && crept() {
            self.waits = self.stays(totals, Area::ZERO);
            self.active = self.waits;
            return if self.waits { Outcome::Held } else { Outcome::Fell };
        }
        if self.sum >= needed() {
            return Outcome::Turned;
        }
        if crosses && !begins { Outcome::Resumed } else { Outcome::Held }
    }

    /// Whether the first crossing, or else the second in its place, [stays](Crossing::stays).
    fn stays(&mut self, totals: &Totals, least: Area<MlPerS>) -> bool {
        if self.first.stays(totals, least) {
            return true;
        }
        match self.second.take() {
            Some(second) if second.stays(totals, least) => {
                self.first = second;
                true
            }
            _ => false,
        }
    }

    /// Whether no turn is under way.
    pub(super) const fn is_idle(&self) -> bool {
        !self.active
    }

    /// The totals before the turn under way.
    pub(super) fn before(&self) -> Option<Totals> {
        self.active.then(|| {
            let mut before = self.first.after;
            before.take_off(&self.first.interval);
            before
        })
    }

    /// Nothing turned. What is known of the crossing stands until the next.
    pub(super) fn drop(&mut self) {
        (self.active, self.below, self.waits) = (false, false, false);
        (self.sum, self.first.net, self.second) = (Area::ZERO, Area::ZERO, None);
    }

    /// When the turn that was just confirmed was, and the totals there; it is over. `began`, the totals where
    /// the phase before began, comes to be those of this one: where a crossing is interpolated, what ended and
    /// what begins round by themselves.
    #[inline(never)]
    pub(super) fn confirm(&mut self, began: &mut Totals, finished: &mut PhaseIntegrals) -> Instant {
        let Crossing { interval, from, to, after, net: _ } = &self.first;
        let (old, new) = interval.split(Share::of_crossing(*from, *to));
        let mut at = *after;
        at.take_off(interval);
        at.add(&old);
        *finished = at.since(began);
        *began = *after;
        began.take_off(&new);
        self.drop();
        old.at
    }
}

#[cfg(test)]
mod tests;
