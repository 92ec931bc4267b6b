//! Lets good readings in, names the bad ones.

use super::{Flags, Interval, Reading};
use crate::quantity::unit::MlPerS;
use crate::quantity::{
    Duration, Flow, Instant, Magnitude, Pressure, Problem, SettingError, const_default, setting,
};
use crate::record;

/// The gate's settings; see [`GateState`] for what it remembers.
///
/// Cost: compares and additions only; no multiply, no divide.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Gate {
    flow_limit: Flow,
    pressure_limit: Pressure,
    gap: Duration,
    cut: Duration,
    frozen: Duration,
}

/// How many samples in a row at one extreme flow make a clip, together with [`CLIP_SPAN`]. Chosen here, no source.
const CLIP_SAMPLES: u8 = 5;
/// How long the flow must sit at one extreme to be called clipped. Chosen here, no source.
const CLIP_SPAN: Duration = Duration::from_millis(30);
/// Readings of a coarse sensor may stay the same for this long by nature. Chosen here, no source.
const NATURAL: Duration = Duration::from_millis(1_500);
/// A clip below this would be a clip of noise. Chosen here, no source.
const CLIP_FLOOR: Flow = Flow::from_int(5);
/// After so many small excursions the large ones are forgotten: some three breaths with ripple between.
/// Chosen here, no source.
const CLIP_FORGOTTEN: u8 = 16;
/// Under a pressure that stands still flow goes to and fro so often, by ten breaths, before the pressure is
/// called stuck: gas that is breathed moves the pressure of any circuit. Chosen here, no source.
const HELD: u8 = 20;
/// After this many readings in good order of their own a time far from the last is believed: the clock
/// was reset, or nothing came for so long. Chosen here, no source.
const IN_ORDER: u8 = 8;
/// A jump forward is believed at once up to this, or the cut limit where that is longer. Chosen here, no source.
const LEAP: Duration = Duration::from_millis(2_000);
/// Readings from so far back, and no further than the first since the clock began, were sent again. Chosen
/// here, no source.
const SENT_AGAIN: Duration = Duration::from_millis(10_000);

const_default! {
    /// ±5 000 mL/s, ±200 cmH2O, gap 100 ms, cut 1 s, frozen 500 ms: all chosen here, no source.
    Gate: Self {
        flow_limit: Flow::from_int(5_000),
        pressure_limit: Pressure::from_int(200),
        gap: Duration::from_millis(100),
        cut: Duration::from_millis(1_000),
        frozen: Duration::from_millis(500),
    }
}

impl Gate {
    /// A gate.
    ///
    /// - `flow_limit`, `pressure_limit`: the sensor's range either side of zero; readings beyond
    ///   are refused and flagged.
    /// - `gap`: the longest wait between samples that is still bridged by a straight line
    ///   (5 ms to 1 s).
    /// - `cut`: beyond this wait the open breath is closed and counting starts afresh; at least
    ///   `gap`, at most 30 s.
    /// - `frozen`: how long flow and pressure may stay the same (50 ms to 10 s), or three times as
    ///   long as they have been seen to by nature, at most ten times `frozen`. A frozen flow under
    ///   moving pressure is given twice as long; a frozen pressure ten times as long, and ten breaths
    ///   (flow beyond 5 mL/s, in and out).
    ///
    /// # Errors
    /// Names the first parameter outside its range.
    pub fn new(
        flow_limit: Flow,
        pressure_limit: Pressure,
        gap: Duration,
        cut: Duration,
        frozen: Duration,
    ) -> Result<Self, SettingError> {
        let within = |name, x, low, high| {
            SettingError::within(name, x, Duration::from_millis(low), Duration::from_millis(high))
        };
        if flow_limit <= Flow::ZERO {
            return Err(SettingError::new("flow_limit", Problem::NotPositive));
        }
        if pressure_limit <= Pressure::ZERO {
            return Err(SettingError::new("pressure_limit", Problem::NotPositive));
        }
        within("gap", gap, 5, 1_000)?;
        within("cut", cut, 5, 30_000)?;
        within("frozen", frozen, 50, 10_000)?;
        if cut < gap {
            return Err(SettingError::new("cut", Problem::Contradiction));
        }
        Ok(Self { flow_limit, pressure_limit, gap, cut, frozen })
    }

    /// The largest pressure that is taken for a reading.
    #[must_use]
    pub const fn pressure_limit(&self) -> Pressure {
        self.pressure_limit
    }

    /// The longest wait that is bridged.
    #[must_use]
    pub const fn gap(&self) -> Duration {
        self.gap
    }

    /// Beyond this wait counting starts afresh.
    #[must_use]
    pub const fn cut(&self) -> Duration {
        self.cut
    }

    /// How long readings may stay the same.
    #[must_use]
    pub const fn frozen(&self) -> Duration {
        self.frozen
    }

    /// The sensor's range either side of zero.
    #[must_use]
    pub const fn flow_limit(&self) -> Flow {
        self.flow_limit
    }

    /// Takes one reading.
    #[doc(hidden)]
    pub fn step(&self, state: &mut GateState, at: Instant, reading: Reading) -> GateOutcome {
        let Some(last) = state.last else {
            return match self.range(reading) {
                Some(refusal) => GateOutcome::Refused(refusal),
                None => state.start(at, reading),
            };
        };
        if let Some(refusal) = self.range(reading) {
            state.pending = state.pending.with(Flags::OUT_OF_RANGE);
            return GateOutcome::Refused(refusal);
        }
        if at <= last.at {
            return state.disorder(at, reading);
        }
        let span = at.since(last.at);
        if span > self.cut {
            return self.far_ahead(state, last.at, at, reading);
        }
        let flags = state.pending.with(Flags::when(Flags::GAP, span > self.gap)).with(state.watch(
            last.reading,
            at,
            reading,
            self,
        ));
        state.pending = Flags::NONE;
        state.in_order = 0;
        state.last = Some(Last { at, reading });
        GateOutcome::Step(Interval {
            at,
            span,
            from: last.reading.into(),
            to: reading.into(),
            flags,
        })
    }

    /// A reading long after the last: refused where it jumps, else a fresh start after a silence.
    #[inline(never)]
    fn far_ahead(
        &self,
        state: &mut GateState,
        last: Instant,
        at: Instant,
        reading: Reading,
    ) -> GateOutcome {
        if at.since(last.max(state.told)) > self.cut.max(LEAP) && !state.is_in_order(at) {
            state.pending = state.pending.with(Flags::DISORDER);
            return GateOutcome::Refused(Refusal::FarAhead);
        }
        let (flags, clock_began) = (state.pending.with(Flags::GAP), state.clock_began);
        *state = GateState::default();
        let _ = state.start(at, reading);
        state.clock_began = clock_began;
        GateOutcome::Cut { since: last, flags }
    }

    /// Time passed without a sample, as a timer tells: a later reading does not jump ahead of it.
    #[doc(hidden)]
    pub fn tell(&self, state: &mut GateState, at: Instant) {
        state.told = at;
    }

    /// A sample is known to be lost or unreadable: the interval to the next good one is a gap,
    /// however short.
    #[doc(hidden)]
    pub fn lost(&self, state: &mut GateState) {
        if state.last.is_some() {
            state.pending = state.pending.with(Flags::GAP);
        }
    }

    fn range(&self, reading: Reading) -> Option<Refusal> {
        if reading.flow.is_within(self.flow_limit) {
            if reading.pressure.is_within(self.pressure_limit) {
                None
            } else {
                Some(Refusal::PressureOutOfRange)
            }
        } else {
            Some(Refusal::FlowOutOfRange)
        }
    }
}

/// What the gate made of a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[must_use]
#[doc(hidden)]
pub enum GateOutcome {
    /// The first reading: nothing lies before it.
    Start,
    /// The interval since the reading before, of which no leak is known yet.
    Step(Interval),
    /// Nothing was heard for so long that counting starts afresh with this reading.
    Cut {
        /// The last reading before the silence.
        since: Instant,
        /// Why.
        flags: Flags,
    },
    /// The reading was not taken.
    Refused(Refusal),
}

record! {
    /// Why a reading was not taken.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum Refusal {
        /// Flow beyond the sensor's range.
        FlowOutOfRange = 0,
        /// Pressure beyond the sensor's range.
        PressureOutOfRange = 1,
        /// Not later than the reading before.
        NotLater = 2,
        /// Further ahead of the reading before, and of what a timer told, than the longer of cut limit
        /// and 2 s: believed once eight readings in a row stand there in order.
        FarAhead = 3,
    }
}

record! {
    #[const_default]
    /// What the gate remembers between readings.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct GateState {
        last: Option<Last>,
        pending: Flags,
        frozen_since: Instant,
        frozen_low: Pressure,
        frozen_high: Pressure,
        /// The longest that readings stayed the same by nature.
        longest: Duration,
        /// Since when the pressure stands still, and how often the flow went to or fro meanwhile.
        held_since: Instant,
        held: u8,
        extreme: Flow,
        /// Sizes of the last two excursions' extremes, of one sign and the other.
        before: [Magnitude<MlPerS>; 2],
        /// Excursions less than half as large since.
        small: u8,
        at_extreme: u8,
        /// It has sat at its extreme as long as a clip does.
        sat: bool,
        extreme_since: Instant,
        /// Readings in a row that were in order among themselves and not with the last, and the latest.
        in_order: u8,
        in_order_at: Instant,
        /// The first reading since the clock began.
        clock_began: Instant,
        /// When a timer told of the time last.
        told: Instant,
    }
}

record! {
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    struct Last {
        at: Instant,
        reading: Reading,
    }
}

impl GateState {
    fn start(&mut self, at: Instant, reading: Reading) -> GateOutcome {
        self.thaw(at, reading.pressure);
        self.last = Some(Last { at, reading });
        self.clock_began = at;
        self.extreme = reading.flow;
        self.extreme_since = at;
        self.held_since = at;
        GateOutcome::Start
    }

    /// A reading not later than the last. One stray is refused, and so is a block that is sent again; a
    /// run of others in good order among themselves means that the clock was set back, and counting
    /// starts afresh.
    fn disorder(&mut self, at: Instant, reading: Reading) -> GateOutcome {
        self.pending = self.pending.with(Flags::DISORDER);
        let last = self.last.map_or(at, |last| last.at);
        let sent_again = at > self.clock_began && last.since(at) <= SENT_AGAIN;
        if sent_again || !self.is_in_order(at) {
            return GateOutcome::Refused(Refusal::NotLater);
        }
        let flags = self.pending;
        *self = Self::default();
        let _ = self.start(at, reading);
        GateOutcome::Cut { since: last, flags }
    }

    /// Whether so many readings in a row, this one the latest, stand in order far from the last.
    fn is_in_order(&mut self, at: Instant) -> bool {
        let in_order = self.in_order == 0 || at >= self.in_order_at;
        self.in_order = if in_order { self.in_order.saturating_add(1) } else { 1 };
        self.in_order_at = at;
        self.in_order >= IN_ORDER
    }

    fn thaw(&mut self, at: Instant, pressure: Pressure) {
        if self.frozen_low == self.frozen_high
            && let Some(last) = self.last
            && last.at != self.frozen_since
        {
            let ended = last.at.since(self.frozen_since);
            if ended < NATURAL {
                self.longest = self.longest.max(ended);
            }
        }
        self.frozen_since = at;
        self.frozen_low = pressure;
        self.frozen_high = pressure;
    }

    fn watch(&mut self, last: Reading, at: Instant, to: Reading, gate: &Gate) -> Flags {
        let same = last.flow == to.flow;
        if same {
            self.frozen_low = self.frozen_low.min(to.pressure);
            self.frozen_high = self.frozen_high.max(to.pressure);
        } else {
            self.thaw(at, to.pressure);
        }
        if last.pressure != to.pressure {
            (self.held_since, self.held) = (at, 0);
        }
        let stuck = (same && self.is_stuck(at, gate.frozen)) || self.is_held(at, gate.frozen);
        Flags::when(Flags::STUCK, stuck)
            .with(Flags::when(Flags::CLIPPED, self.is_clipped(at, to.flow, gate.flow_limit)))
    }

    fn is_stuck(&self, at: Instant, frozen: Duration) -> bool {
        let span = at.since(self.frozen_since);
        let twice = frozen.saturating_add(frozen);
        if self.frozen_low == self.frozen_high {
            // A sensor of coarse steps repeats itself in every quiet expiration.
            let usual = self.longest.saturating_add(self.longest).saturating_add(self.longest);
            span >= frozen.max(usual) || span >= ten_times(frozen)
        } else {
            let moved = self.frozen_high.saturating_sub(self.frozen_low).value;
            span >= twice && moved > Pressure::from_int(1)
        }
    }

    /// The pressure stands still to the last digit while the infant breathes.
    fn is_held(&self, at: Instant, frozen: Duration) -> bool {
        self.held >= HELD && at.since(self.held_since) >= ten_times(frozen)
    }

    /// Noise and ripple cross zero and back: what is no larger than that, or than half of what is remembered,
    /// ends no excursion. After sixteen of those the larger ones are too long ago. One that sat at its extreme is
    /// none of them down to a quarter: a range that was made smaller clips at less than half, and ripple read in
    /// coarse steps sits, too. Half, quarter and sixteen are chosen here, no source.
    fn end_excursion(&mut self) {
        let size = core::mem::take(&mut self.extreme).magnitude();
        let [latest, other] = self.before;
        let sat = core::mem::take(&mut self.sat);
        let twice = size.doubled();
        let compared = if sat { twice.doubled() } else { twice };
        let large = compared >= latest.max(other);
        if size > CLIP_FLOOR.magnitude() {
            self.held = self.held.saturating_add(1);
        }
        self.small = if large { 0 } else { self.small.saturating_add(1) };
        if size > CLIP_FLOOR.magnitude() && (large || self.small >= CLIP_FORGOTTEN) {
            (self.before, self.small) = ([size, latest], 0);
        }
    }

    /// The flow sits at the end of the sensor's range, or at the largest value of this excursion
    /// from zero where the last excursion of either sign ended at just that value too.
    fn is_clipped(&mut self, at: Instant, flow: Flow, limit: Flow) -> bool {
        let size = flow.magnitude();
        if (flow < Flow::ZERO) != (self.extreme < Flow::ZERO) {
            self.end_excursion();
        }
        if size > self.extreme.magnitude() {
            self.extreme = flow;
            self.extreme_since = at;
            (self.at_extreme, self.sat) = (1, false);
            return false;
        }
        if flow != self.extreme {
            self.at_extreme = 0;
            return false;
        }
        if self.at_extreme == 0 {
            self.extreme_since = at;
        }
        self.at_extreme = self.at_extreme.saturating_add(1);
        let sits = self.at_extreme >= CLIP_SAMPLES && at.since(self.extreme_since) >= CLIP_SPAN;
        self.sat |= sits;
        let near_limit = size >= limit.halved(1).magnitude();
        sits && size > CLIP_FLOOR.magnitude() && (near_limit || self.before.contains(&size))
    }
}

fn ten_times(frozen: Duration) -> Duration {
    let twice = frozen.saturating_add(frozen);
    let four = twice.saturating_add(twice);
    four.saturating_add(four).saturating_add(twice)
}

setting! {
    Gate = new {
        flow_limit: Flow, pressure_limit: Pressure, gap: Duration, cut: Duration, frozen: Duration,
    }
}

#[cfg(test)]
mod tests;
