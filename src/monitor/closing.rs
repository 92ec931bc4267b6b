//! A breath whose turn was found, on its way into a report.
//!
//! What was seen of it is taken out at the turn, for the next breath has begun. Its numbers are worked out
//! with the samples that follow, a slice each, so that no single sample bears them all: how a slice is cut
//! never depends on how long the work takes.

use super::hearing::{Hearing, Shift};
use super::listeners::Listeners;
use super::{BreathReport, Settings};
use crate::breath::Kind;
use crate::mechanics::{BendCurve, FitSums};
use crate::quantity::{ConstDefault, Instant};
use crate::record;
use crate::trigger::SeenEffort;

record! {
    /// What is known of it so far.
    #[derive(Debug, Clone, PartialEq)]
    pub(super) struct Closing {
        /// What will be told.
        pub(super) told: BreathReport,
        /// The next slice; [`SLICES`](Self::SLICES) where none is left.
        pub(super) slice: u8,
        /// The times when its turn was found: the recording's clock may be set back since.
        pub(super) shift: Shift,
        pub(super) seen: SeenEffort,
        pub(super) fit: FitSums,
        /// The bent fit, half solved, and whether it is.
        pub(super) curve: BendCurve,
        pub(super) is_bent: bool,
        /// An effort set nothing off since the breath before, or the infant pulled as this one began.
        pub(super) at_work: bool,
    }
}

impl Closing {
    /// It is told with the eighth sample after its turn was found.
    pub(super) const SLICES: u8 = 8;

    /// No breath yet.
    pub(super) const fn none() -> Self {
        Self {
            told: BreathReport::blank(),
            slice: Self::SLICES,
            shift: Shift::DEFAULT,
            seen: SeenEffort::DEFAULT,
            fit: FitSums::DEFAULT,
            curve: BendCurve::DEFAULT,
            is_bent: false,
            at_work: false,
        }
    }

    /// Whether a slice is left.
    pub(super) const fn is_open(&self) -> bool {
        self.slice < Self::SLICES
    }

    /// Whether an inflation is being worked out.
    pub(super) fn is_inflation(&self) -> bool {
        self.is_open() && self.told.breath.kind == Kind::Inflation
    }

    /// Takes out what was seen of the breath that was written, whose end was found with a reading, and whose
    /// infant was `at_work`.
    pub(super) fn begin(
        &mut self,
        found: Instant,
        settings: &Settings,
        hearing: &Hearing,
        listeners: &mut Listeners,
        at_work: bool,
    ) {
        (self.slice, self.shift) = (0, hearing.shift());
        let told = &mut self.told;
        (told.time, told.found) = (self.shift.of(told.breath.onset), found);
        told.lag = listeners.lag();
        listeners.end_breath(settings, &mut self.seen, &mut self.fit);
        self.at_work = at_work;
    }
}
