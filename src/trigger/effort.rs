//! Efforts that got no inflation: bumps in the flow that no passive lung makes.
//!
//! Under a steady pressure the flow of a passive lung only decays toward zero. Two things betray an
//! infant who tries: in expiration the outward flow slackens and then *grows again* (the effort
//! lets go); under the pressure of an inflation the inward flow *grows again* (an effort on top).

use crate::breath::Phase;
use crate::quantity::{Flow, Moment, Pressure, Problem, SettingError, Span};
use crate::signal::{Flags, Step};

/// Settings of the watch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct EffortWatch {
    least: Flow,
}

impl Default for EffortWatch {
    /// 1.5 mL/s.
    fn default() -> Self {
        Self { least: Flow::from_milli(1_500).value }
    }
}

/// An effort that was seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Effort {
    /// When it was strongest, as far as the flow shows.
    pub at: Moment,
    /// How far the flow went back or grew: at least the watch's measure.
    pub size: Flow,
    /// Whether it fell into an inflation or an expiration.
    pub during: Phase,
}

/// What the watch remembers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct EffortState {
    /// The flow into the lung, smoothed over some 15 ms.
    smooth: Flow,
    reference: Pressure,
    steady_since: Moment,
    phase: Phase,
    low: Flow,
    high: Flow,
    high_at: Moment,
    /// The flow has come up from its low since the turn: a fall from here on means something.
    armed: bool,
    last: Option<Moment>,
}

/// The pressure is steady while it keeps within this.
const STEADY: Pressure = Pressure::from_milli(700).value;
/// Flow needs this long to settle after a change of pressure.
const SETTLE: Span = Span::from_millis(40);
/// Two bumps closer than this are one effort.
const ONE_EFFORT: Span = Span::from_millis(250);

impl EffortWatch {
    /// A watch for bumps of at least `least` (0.1 to 100 mL/s); it raises that to two
    /// times the reach of noise and ripple and to 1/32 of the usual peak flow.
    ///
    /// # Errors
    /// `least` outside its range.
    pub fn new(least: Flow) -> Result<Self, SettingError> {
        if least < Flow::from_milli(100).value {
            Err(SettingError::new("least", Problem::TooSmall))
        } else if least > Flow::from_int(100) {
            Err(SettingError::new("least", Problem::TooLarge))
        } else {
            Ok(Self { least })
        }
    }

    /// Takes an interval, the flow into the lung at its end and what the segmenter says of it.
    /// `inflated`: the pressure stands above baseline by an inflation's rise. Additions and
    /// compares only.
    pub fn step(
        &self,
        state: &mut EffortState,
        step: &Step,
        lung: Flow,
        surroundings: Surroundings,
    ) -> Option<Effort> {
        state.smooth(step, lung);
        let Surroundings { phase, inflated, reach, usual_peak } = surroundings;
        if phase != state.phase || step.flags.has(Flags::GAP) {
            state.phase = phase;
            state.restart(step.at);
        }
        let moved = step.to.pressure.saturating_sub(state.reference).value;
        if moved > STEADY || moved < Pressure::ZERO.saturating_sub(STEADY).value {
            state.reference = step.to.pressure;
            state.steady_since = step.at;
        }
        if step.at.since(state.steady_since) < SETTLE {
            state.restart(step.at);
            return None;
        }
        let noise = reach.saturating_add(reach).value;
        let least = self.least.max(noise).max(usual_peak.halved(5));
        let size = match phase {
            Phase::Expiration => state.falls(step.at, least)?,
            Phase::Inspiration if inflated => state.grows(step.at, least)?,
            Phase::Inspiration | Phase::Unknown => return None,
        };
        let at = state.high_at;
        state.restart(step.at);
        let again = state.last.is_some_and(|last| at.since(last) < ONE_EFFORT);
        state.last = Some(at);
        if again { None } else { Some(Effort { at, size, during: phase }) }
    }
}

/// What is known beside the flow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Surroundings {
    /// Which way the gas goes.
    pub phase: Phase,
    /// The pressure stands above baseline by an inflation's rise.
    pub inflated: bool,
    /// How far noise and ripple reach.
    pub reach: Flow,
    /// The usual peak flow.
    pub usual_peak: Flow,
}

impl EffortState {
    /// A first-order lag whose share follows the sampling interval, without a divide.
    fn smooth(&mut self, step: &Step, lung: Flow) {
        let us = step.span.to_us();
        let shift = match us {
            0..1_200 => 4,
            1_200..2_500 => 3,
            2_500..6_000 => 2,
            6_000..12_000 => 1,
            _ => 0,
        };
        let toward = lung.saturating_sub(self.smooth).value.halved(shift);
        self.smooth = self.smooth.saturating_add(toward).value;
    }

    fn restart(&mut self, at: Moment) {
        (self.low, self.high, self.high_at, self.armed) = (self.smooth, self.smooth, at, false);
    }

    /// In expiration: how far the flow fell back from its highest, once it had come up.
    fn falls(&mut self, at: Moment, least: Flow) -> Option<Flow> {
        if !self.armed {
            self.low = self.low.min(self.smooth);
            self.armed = self.smooth.saturating_sub(self.low).value >= least.halved(1);
            (self.high, self.high_at) = (self.smooth, at);
            return None;
        }
        if self.smooth > self.high {
            (self.high, self.high_at) = (self.smooth, at);
        }
        Some(self.high.saturating_sub(self.smooth).value).filter(|fall| *fall >= least)
    }

    /// Under pressure: how far the flow grew from its lowest.
    fn grows(&mut self, at: Moment, least: Flow) -> Option<Flow> {
        self.low = self.low.min(self.smooth);
        self.high_at = at;
        Some(self.smooth.saturating_sub(self.low).value).filter(|growth| *growth >= least)
    }
}
