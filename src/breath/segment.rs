//! Cuts the stream of samples into breaths.

use super::end_expiration::{EndExpiration, Tail};
use super::extremes::{Extremes, Least, leak_of};
use super::record::Breath;
use super::reversal::{FlowReversal, Outcome, Way};
use super::typical::TypicalBreath;
use super::{PhaseIntegrals, Totals};
use crate::quantity::unit::MlPerS;
use crate::quantity::{
    Area, Flow, Instant, Pressure, SettingError, Volume, const_default, setting,
};
use crate::record;
use crate::signal::{End, Flags, Interval};

/// Bubbles move the pressure about a mean no further above the baseline. Chosen here, no source.
const NO_INFLATION: Pressure = Pressure::from_int(2);

/// The segmenter's settings.
///
/// It reads the flow into the lung (flow at the sensor less the leak) and finds where it turns.
/// It needs no pause at zero flow, follows 5 to 150 breaths/min at 50 to 1 000 samples/s, and
/// scales by itself from the smallest infant to an adult: the level that flow must pass is the
/// largest of `min_flow`, 1/64 of the usual peak flow, the reach of ripple in quiet expirations and a
/// quarter of what more leaks than at the onset (without a quiet end before that, of all that leaks), for
/// so far a leak may stray from its model; the volume that a turn must move is the largest of `min_volume`,
/// 1/16 of the usual tidal volume and what that reach of ripple moves in 0.1 s.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Segmenter {
    min_flow: Flow,
    min_volume: Area<MlPerS>,
    pub(super) inflation_rise: Pressure,
}

const_default! {
    /// 1 mL/s, 0.25 mL, 2 cmH2O: all chosen here, no source.
    Segmenter: Self {
        min_flow: Flow::from_int(1),
        min_volume: Area::of_seconds(Volume::from_milli(250).value),
        inflation_rise: Pressure::from_int(2),
    }
}

record! {
    #[const_default(Unknown)]
    /// Which way the gas goes.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum Phase {
        /// No turn has been seen yet.
        Unknown = 0,
        /// Into the lung.
        Inspiration = 1,
        /// Out of the lung, or at rest.
        Expiration = 2,
    }
}

record! {
    #[const_default]
    /// What the segmenter remembers.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct SegmenterState {
        pub(super) phase: Phase,
        pub(super) turn: FlowReversal,
        pub(super) tail: Tail,
        pub(super) now: Instant,
        totals: Totals,
        /// The totals where the phase under way began (before the first turn: the lead-in).
        pub(super) began: Totals,
        /// Extremes of the breath under way, and of the turn that may be.
        pub(super) seen: Extremes,
        pub(super) held: Extremes,
        pub(super) open: Open,
        pub(super) usual: TypicalBreath,
        /// The interval before was a gap.
        blind: bool,
    }
}

record! {
    #[const_default]
    /// The breath under way.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Open {
        pub(super) onset: Instant,
        pub(super) end_insp: Instant,
        /// What the model let past the lung at the onset.
        pub(super) leak: Flow,
        pub(super) inspiration: PhaseIntegrals,
        pub(super) quiet: Option<EndExpiration>,
        pub(super) baseline: Pressure,
        /// About what the pressure swung before the onset, where bubbles move it.
        pub(super) swung_about: Option<Pressure>,
        pub(super) end_pressure: Pressure,
    }
}

impl Segmenter {
    /// A segmenter.
    ///
    /// - `min_flow` (0.1 to 1 000 mL/s): flow below this never makes a turn.
    /// - `min_volume` (0.05 to 1 000 mL): a turn that moves less is taken for ripple.
    /// - `inflation_rise` (0.5 to 20 cmH2O): a breath whose inspiratory pressure rises by this
    ///   above baseline is an inflation.
    ///
    /// # Errors
    /// Names the first parameter outside its range.
    pub fn new(
        min_flow: Flow,
        min_volume: Volume,
        inflation_rise: Pressure,
    ) -> Result<Self, SettingError> {
        let (least, most) = (Flow::from_milli(100).value, Flow::from_int(1_000));
        SettingError::within("min_flow", min_flow, least, most)?;
        let (least, most) = (Volume::from_milli(50).value, Volume::from_int(1_000));
        SettingError::within("min_volume", min_volume, least, most)?;
        let (least, most) = (Pressure::from_milli(500).value, Pressure::from_int(20));
        SettingError::within("inflation_rise", inflation_rise, least, most)?;
        Ok(Self { min_flow, min_volume: Area::of_seconds(min_volume), inflation_rise })
    }

    /// The flow that makes a turn.
    #[must_use]
    pub const fn min_flow(&self) -> Flow {
        self.min_flow
    }

    /// The volume that makes a turn.
    #[must_use]
    pub const fn min_volume(&self) -> Volume {
        self.min_volume.in_seconds().value
    }

    /// The least rise of pressure that makes an inflation.
    #[must_use]
    pub const fn inflation_rise(&self) -> Pressure {
        self.inflation_rise
    }

    /// Begins at a first reading: after power-up, or after a cut.
    #[doc(hidden)]
    pub fn start(&self, state: &mut SegmenterState, at: Instant, first: &End) {
        state.begin_afresh();
        let out = Least { flow: state.totals.flow(), at };
        (state.now, state.seen) = (at, Extremes::begin(first, out));
    }

    /// Takes one interval; the breath it closes, if it does.
    ///
    /// Cost: a handful of wide multiplies a sample; the sample that turns the flow divides a few
    /// times.
    #[doc(hidden)]
    pub fn step(&self, state: &mut SegmenterState, interval: &Interval) -> Option<Breath> {
        self.turn(state, interval).then(|| {
            let mut breath = Breath::default();
            self.close(state, &mut breath);
            breath
        })
    }

    /// Takes one interval; whether it ended the breath under way, which is to be [closed](Self::close) before
    /// the next.
    pub(crate) fn turn(&self, state: &mut SegmenterState, interval: &Interval) -> bool {
        state.now = interval.at;
        if interval.flags.has(Flags::GAP) {
            state.skip(interval);
            return false;
        }
        state.tail.push(interval);
        state.totals.add(interval);
        let out = Least { flow: state.totals.flow(), at: interval.at };
        let outward = state.phase == Phase::Inspiration;
        let along = |end: &End| {
            if outward { Flow::ZERO.saturating_sub(end.lung).value } else { end.lung }
        };
        let (from, to) = (along(&interval.from), along(&interval.to));
        let way = Way { from, to, level: self.level(state, &interval.to) };
        let idle = state.turn.is_idle();
        let blind = core::mem::replace(&mut state.blind, false);
        let (usual, seen, held) = (&state.usual, &state.seen, &state.held);
        let needed = || {
            let peak_in = if idle { seen.peak_in } else { seen.peak_in.max(held.peak_in) };
            let needed = self.min_volume.max(usual.least_turn(peak_in));
            // An outward turn is believed sooner: small own breaths breathe out gently, and a false
            // one makes no false breath by itself.
            if outward { needed.fraction(1) } else { needed }
        };
        let (tail, baseline) = (&state.tail, state.open.baseline);
        // Not at the height of an inflation, whose pressure may swing too.
        let swings = || {
            let mean = tail.swings_about();
            mean.is_some_and(|mean| !outward || mean.saturating_sub(baseline).value <= NO_INFLATION)
        };
        let outcome = state.turn.step(interval, &state.totals, way, needed, swings);
        if idle && !matches!(outcome, Outcome::None) {
            state.held.restart(&interval.from, out);
            // Samples came back with the flow gone the new way: its beginning is missing.
            let missed = blind && way.from > Flow::ZERO;
            state.held.flags = Flags::when(Flags::GAP, missed);
        }
        match outcome {
            Outcome::None => state.seen.take(interval, out, self.inflation_rise),
            Outcome::Held => state.held.take(interval, out, self.inflation_rise),
            Outcome::Resumed => {
                state.held.rise_from(&interval.from);
                state.held.take(interval, out, self.inflation_rise);
            }
            Outcome::Fell => {
                state.held.take(interval, out, self.inflation_rise);
                state.seen.join(&state.held);
            }
            Outcome::Again => {
                state.seen.join(&state.held);
                state.held.restart(&interval.from, out);
                state.held.take(interval, out, self.inflation_rise);
            }
            Outcome::Turned => {
                state.held.take(interval, out, self.inflation_rise);
                match state.phase {
                    Phase::Inspiration => state.turn_outward(),
                    Phase::Expiration => return true,
                    Phase::Unknown => self.begin(state),
                }
            }
        }
        false
    }

    /// Learns from a breath that it closed, after all flags were set, what breaths are like; a flagged
    /// one changes nothing.
    #[doc(hidden)]
    pub fn learn(&self, state: &mut SegmenterState, breath: &Breath) {
        if breath.is_trusted() {
            state.usual.learn(breath);
        }
    }

    /// Flow at the sensor and pressure where both have stood still for the last 200 ms near the baseline,
    /// whatever the leak model makes of it: nobody breathes. Where the model calls it a breath, that must
    /// have moved half as much again as a usual one: a gentle breath, too, stands still at its peak.
    /// To be asked as a block of 50 ms [begins](SegmenterState::begins_block), between two
    /// [`steps`](Self::step).
    #[must_use]
    #[doc(hidden)]
    pub fn still(&self, state: &SegmenterState) -> Option<(Flow, Pressure)> {
        if matches!(state.phase, Phase::Unknown) {
            return None;
        }
        let usual = &state.usual;
        let still = state.tail.still(state.open.baseline, usual.flow)?;
        let moved = state.totals.flow().wrapping_sub(state.began.flow()).saturating_abs();
        let much = usual.volume.saturating_add(usual.volume.fraction(1));
        let is_quiet = state.tail.is_quiet(self.quiet_limit(state));
        (is_quiet || moved > much).then_some(still)
    }

    /// Nothing has turned so far, whatever was held: while nobody breathes yet and the leak is
    /// still being guessed.
    #[doc(hidden)]
    pub fn rest(&self, state: &mut SegmenterState) {
        // Without a turn under way nothing is held, least of all a pressure.
        if !state.turn.is_idle() {
            state.seen.join(&state.held);
        }
        state.turn.drop();
    }

    /// Mean flow into the lung that still counts as quiet: 4 mL/s, half the peak of small breaths, or a
    /// sixteenth of that of large ones.
    fn quiet_limit(&self, state: &SegmenterState) -> Flow {
        let (few, peak) = (Flow::from_int(4), state.peak_in());
        let few = if peak > Flow::ZERO { few.min(peak.halved(1)) } else { few };
        few.max(peak.halved(4))
    }

    fn level(&self, state: &SegmenterState, now: &End) -> Flow {
        let leak = leak_of(now);
        let more = leak.saturating_sub(state.open.leak).value.halved(2);
        let stray = if matches!(state.phase, Phase::Unknown) {
            Flow::ZERO
        } else if state.open.quiet.is_some() {
            more
        } else {
            leak.halved(2).max(more)
        };
        self.min_flow.max(state.peak_in().halved(6)).max(state.usual.ripple).max(stray)
    }

    pub(super) fn quiet(&self, state: &SegmenterState, until: Instant) -> Option<EndExpiration> {
        let apart = Tail::apart(state.usual.flow);
        let flat = state.tail.flat_after(until, apart);
        flat.or_else(|| state.tail.quiet(until, self.quiet_limit(state)))
    }
}

impl SegmenterState {
    /// Which way the gas goes.
    #[must_use]
    pub const fn phase(&self) -> Phase {
        self.phase
    }

    /// All summed since the last turn (before the first turn: since the start), less what a turn
    /// under way holds back.
    #[must_use]
    pub fn current(&self) -> PhaseIntegrals {
        self.turn.before().unwrap_or(self.totals).since(&self.began)
    }

    /// The usual peak flow inward; until breaths are known, what this one reached.
    fn peak_in(&self) -> Flow {
        if self.usual.volume > Area::ZERO { self.usual.flow } else { self.seen.peak_in }
    }

    /// The totals up to now.
    #[must_use]
    pub const fn totals(&self) -> &Totals {
        &self.totals
    }

    /// Only the totals, and what breaths have been like, outlive a cut.
    pub(super) fn begin_afresh(&mut self) {
        // In place: the whole would be built elsewhere and copied here.
        let Self { phase, turn, tail, now, totals, began, seen, held, open, usual: _, blind } =
            self;
        (*phase, *now, *blind) = (Phase::Unknown, Instant::default(), false);
        turn.drop();
        tail.clear();
        *began = *totals;
        *seen = Extremes::default();
        *held = Extremes::default();
        *open = Open::default();
    }

    /// Whether a block of 50 ms has just begun.
    #[must_use]
    pub const fn begins_block(&self) -> bool {
        self.tail.begins_block()
    }

    /// What was wrong so far in the breath under way.
    #[must_use]
    pub const fn flags(&self) -> Flags {
        self.seen.flags
    }

    /// Where the machine's rise of pressure began in the breath under way; `None` as long as there was none.
    #[must_use]
    pub fn risen(&self) -> Option<Instant> {
        let rise = self.seen.rise?;
        let is_in = match self.phase {
            Phase::Unknown => false,
            Phase::Inspiration => true,
            Phase::Expiration => rise < self.open.end_insp,
        };
        is_in.then_some(self.seen.lead.until)
    }

    /// Where the flow of the breath under way turned outward; zero as long as it has not.
    #[must_use]
    pub const fn end_insp(&self) -> Instant {
        self.open.end_insp
    }

    /// The largest pressure of the breath under way.
    #[must_use]
    pub const fn peak(&self) -> Pressure {
        self.seen.peak
    }

    /// Baseline pressure of the breath under way.
    #[must_use]
    pub const fn baseline(&self) -> Pressure {
        self.open.baseline
    }

    /// The usual peak inward flow; zero before the first trusted breath.
    #[must_use]
    pub const fn usual_peak_flow(&self) -> Flow {
        self.usual.flow
    }

    /// Time passes over which nothing is known of the flow: no volume moves. Where a turn was under
    /// way, the gap touches the breath before it and the one after.
    fn skip(&mut self, interval: &Interval) {
        self.blind = true;
        self.seen.flags = self.seen.flags.with(interval.flags);
        self.totals.wait(interval.span);
        if !self.turn.is_idle() {
            self.held.flags = self.held.flags.with(interval.flags);
        }
    }
}

setting! { Segmenter = new { min_flow: Flow, min_volume: Volume, inflation_rise: Pressure } }
