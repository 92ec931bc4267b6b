//! Cuts the stream of samples into breaths.

use super::moved::Moved;
use super::observed::{Least, Observed, leak_of};
use super::quiet::{Quiet, Tail};
use super::record::{Breath, Kind};
use super::turn::{Outcome, Turn, Turned, Way};
use super::usual::Usual;
use super::{Sums, Totals};
use crate::quantity::{Flow, Moment, Pressure, SettingError, Span, Volume, arith};
use crate::record;
use crate::signal::{End, Flags, Interval};

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
pub struct Segment {
    min_flow: Flow,
    min_volume: i64,
    inflation_rise: Pressure,
}

impl Default for Segment {
    /// 1 mL/s, 0.25 mL, 2 cmH2O.
    fn default() -> Self {
        Self {
            min_flow: Flow::from_int(1),
            min_volume: arith::q16_to_area(Volume::from_milli(250).value.to_bits()),
            inflation_rise: Pressure::from_int(2),
        }
    }
}

record! {
    /// Which way the gas goes.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum Phase {
        /// No turn has been seen yet.
        #[default]
        Unknown = 0,
        /// Into the lung.
        Inspiration = 1,
        /// Out of the lung, or at rest.
        Expiration = 2,
    }
}

record! {
    /// What the segmenter remembers.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct SegmentState {
        phase: Phase,
        turn: Turn,
        tail: Tail,
        now: Moment,
        totals: Totals,
        /// The totals where the phase under way began (before the first turn: the lead-in).
        began: Totals,
        /// Extremes of the breath under way, and of the turn that may be.
        seen: Observed,
        held: Observed,
        open: Open,
        usual: Usual,
        /// The interval before was a gap.
        blind: bool,
    }
}

record! {
    /// The breath under way.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    struct Open {
        onset: Moment,
        end_insp: Moment,
        /// What the model let past the lung at the onset.
        leak: Flow,
        inspiration: Sums,
        quiet: Option<Quiet>,
        baseline: Pressure,
        end_pressure: Pressure,
    }
}

/// A shorter time before the first onset tells nothing of the expiration before it.
const LEAD_IN: Span = Span::from_millis(50);
/// Below this no noise is remarked on, unless it is twice the usual.
const NOISY: Flow = Flow::from_int(4);

impl Segment {
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
        Ok(Self { min_flow, min_volume: arith::q16_to_area(min_volume.to_bits()), inflation_rise })
    }

    /// The least rise of pressure that makes an inflation.
    #[must_use]
    pub const fn inflation_rise(&self) -> Pressure {
        self.inflation_rise
    }

    /// Begins at a first reading: after power-up, or after a cut.
    pub fn start(&self, state: &mut SegmentState, at: Moment, first: &End) {
        state.begin_afresh();
        let out = Least { flow: state.totals.flow(), at };
        (state.now, state.seen) = (at, Observed::begin(first, out));
    }

    /// Takes one interval; the breath it closes, if it does.
    ///
    /// Cost: a handful of wide multiplies a sample; the sample that turns the flow divides a few
    /// times.
    pub fn step(&self, state: &mut SegmentState, interval: &Interval) -> Option<Breath> {
        state.now = interval.at;
        if interval.flags.has(Flags::GAP) {
            state.skip(interval);
            return None;
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
            if outward { arith::fraction(needed, 1) } else { needed }
        };
        let (tail, baseline) = (&state.tail, state.open.baseline);
        let swings = || tail.swings(baseline);
        let outcome = state.turn.step(interval, &state.totals, way, needed, swings);
        if idle && !matches!(outcome, Outcome::None) {
            state.held = Observed::begin(&interval.from, out);
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
                state.held = Observed::begin(&interval.from, out);
                state.held.take(interval, out, self.inflation_rise);
            }
            Outcome::Turned(turned) => {
                state.held.take(interval, out, self.inflation_rise);
                return self.turn(state, turned);
            }
        }
        None
    }

    /// Learns from a breath that it closed, after all flags were set, what breaths are like; a flagged
    /// one changes nothing.
    pub fn learn(&self, state: &mut SegmentState, breath: &Breath) {
        if breath.is_trusted() {
            state.usual.learn(breath);
        }
    }

    /// Flow at the sensor and pressure where both have stood still for the last 200 ms near the baseline,
    /// whatever the leak model makes of it: nobody breathes. Where the model calls it a breath, that must
    /// have moved half as much again as a usual one: a gentle breath, too, stands still at its peak.
    /// To be asked as a block of 50 ms [begins](SegmentState::begins_block), between two
    /// [`steps`](Self::step).
    #[must_use]
    pub fn still(&self, state: &SegmentState) -> Option<(Flow, Pressure)> {
        if matches!(state.phase, Phase::Unknown) {
            return None;
        }
        let usual = &state.usual;
        let still = state.tail.still(state.open.baseline, usual.flow)?;
        let moved = state.totals.flow().wrapping_sub(state.began.flow()).saturating_abs();
        let much = usual.volume.saturating_add(arith::fraction(usual.volume, 1));
        let is_quiet = state.tail.is_quiet(self.quiet_limit(state));
        (is_quiet || moved > much).then_some(still)
    }

    /// Nothing has turned so far, whatever was held: while nobody breathes yet and the leak is
    /// still being guessed.
    pub fn rest(&self, state: &mut SegmentState) {
        // Without a turn under way nothing is held, least of all a pressure.
        if !state.turn.is_idle() {
            state.seen.join(&state.held);
        }
        state.turn.drop();
    }

    /// Closes the breath under way, if any, as one that was cut: at the end of a recording or
    /// before a long gap.
    pub fn finish(&self, state: &mut SegmentState, why: Flags) -> Option<Breath> {
        self.rest(state);
        let rest = state.current();
        state.seen.flags = state.seen.flags.with(why).with(Flags::CUT);
        let closed = match state.phase {
            Phase::Unknown => None,
            Phase::Inspiration => {
                state.open.inspiration = rest;
                state.open.end_insp = state.now;
                state.open.end_pressure = state.seen.peak;
                Some(self.close(state, state.now, Sums::ZERO, &state.began))
            }
            Phase::Expiration => Some(self.close(state, state.now, rest, &state.began)),
        };
        state.begin_afresh();
        closed
    }

    /// Mean flow into the lung that still counts as quiet: 4 mL/s, half the peak of small breaths, or a
    /// sixteenth of that of large ones.
    fn quiet_limit(&self, state: &SegmentState) -> Flow {
        let (few, peak) = (Flow::from_int(4), state.peak_in());
        let few = if peak > Flow::ZERO { few.min(peak.halved(1)) } else { few };
        few.max(peak.halved(4))
    }

    fn level(&self, state: &SegmentState, now: &End) -> Flow {
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

    fn turn(&self, state: &mut SegmentState, turned: Turned) -> Option<Breath> {
        let began = core::mem::replace(&mut state.began, turned.began);
        let finished = turned.ended.since(&began);
        match state.phase {
            Phase::Inspiration => {
                state.phase = Phase::Expiration;
                state.open.inspiration = finished;
                state.open.end_insp = turned.at;
                state.open.end_pressure = state.held.reference;
                state.seen.turn_outward(&state.held);
                None
            }
            Phase::Expiration => {
                let mut closed = self.close(state, turned.at, finished, &began);
                let quiet = self.quiet(state, turned.at);
                let noisy = quiet.is_some_and(|quiet| {
                    let usual = state.usual.spread;
                    state.usual.volume > 0
                        && quiet.spread > NOISY.max(usual.saturating_add(usual).value)
                });
                closed.flags = closed.flags.with(Flags::when(Flags::NOISY, noisy));
                self.open(state, turned.at, quiet);
                Some(closed)
            }
            Phase::Unknown => {
                let quiet = self.quiet(state, turned.at);
                let begun_before = quiet.is_none() && finished.span() < LEAD_IN;
                self.open(state, turned.at, quiet);
                let flag = Flags::when(Flags::BEGUN_BEFORE, begun_before);
                state.seen.flags = state.seen.flags.with(flag);
                None
            }
        }
    }

    fn quiet(&self, state: &SegmentState, until: Moment) -> Option<Quiet> {
        let apart = Tail::apart(state.usual.flow);
        let flat = state.tail.flat_after(until, apart);
        flat.or_else(|| state.tail.quiet(until, self.quiet_limit(state)))
    }

    fn open(&self, state: &mut SegmentState, onset: Moment, quiet: Option<Quiet>) {
        let baseline = match quiet {
            Some(quiet) => quiet.pressure,
            None => state.seen.lowest.min(state.held.reference),
        };
        state.seen = state.held;
        // Where no reading came before the rise the lead is over as it begins.
        state.seen.lead.until = state.seen.lead.until.max(onset);
        let risen = state.seen.reference.saturating_sub(baseline).value >= self.inflation_rise;
        if risen {
            // The pressure was up before the flow turned: nothing came before it.
            state.seen.rise = Some(onset);
            state.seen.lead.until = onset;
        }
        state.phase = Phase::Inspiration;
        let leak = state.held.leak;
        state.open = Open { onset, leak, quiet, baseline, ..Open::default() };
    }

    /// Closes a breath whose last phase began with these totals.
    fn close(&self, state: &SegmentState, end: Moment, expiration: Sums, began: &Totals) -> Breath {
        let (mut open, mut seen) = (state.open, state.seen);
        if seen.flags.has(Flags::BEGUN_BEFORE) && matches!(state.phase, Phase::Expiration) {
            // What came before its first reading is not known: how low the pressure fell after it is.
            open.baseline = open.baseline.min(seen.lowest);
            let above = seen.peak.saturating_sub(open.baseline).value;
            let risen = above >= self.inflation_rise;
            seen.rise = seen.rise.filter(|at| *at < open.end_insp).or(risen.then_some(open.onset));
        }
        let rise = self.machine_rise(&open, seen.rise);
        let seen_out = matches!(state.phase, Phase::Expiration).then_some(&seen);
        let times = (open.end_insp, end);
        let Moved { inspired, expired, out_until, most_out } =
            Moved::of((&open.inspiration, &expiration), began, seen_out, times);
        let saturated = inspired.saturated || expired.saturated;
        Breath {
            onset: open.onset,
            end_insp: open.end_insp,
            end,
            kind: if rise.is_some() { Kind::Inflation } else { Kind::Own },
            inspiration: open.inspiration,
            expiration,
            inspired,
            expired,
            out_until,
            most_out,
            peak: seen.peak,
            baseline: open.baseline,
            peak_insp_flow: seen.peak_in,
            peak_exp_flow: outward(seen.most_out),
            pressure_rise: rise,
            lead: seen.lead,
            end_insp_pressure: open.end_pressure,
            early_out: match state.phase {
                Phase::Expiration => outward(seen.early_out),
                Phase::Unknown | Phase::Inspiration => Flow::ZERO,
            },
            quiet: open.quiet,
            flags: seen.flags.with(Flags::when(Flags::SATURATED, saturated)),
        }
    }

    /// An inflation shows in all three: a pressure that rose during inspiration, its mean, and gas that
    /// went in.
    fn machine_rise(&self, open: &Open, rise: Option<Moment>) -> Option<Moment> {
        if open.inspiration.flow_area() <= 0 {
            return None;
        }
        let mean = open.inspiration.mean_pressure()?;
        let mean_rise = mean.saturating_sub(open.baseline).value;
        rise.filter(|rise| *rise < open.end_insp && mean_rise >= self.inflation_rise.halved(2))
    }
}

/// A flow counted the other way.
fn outward(flow: Flow) -> Flow {
    Flow::ZERO.saturating_sub(flow).value
}

impl SegmentState {
    /// Which way the gas goes.
    #[must_use]
    pub const fn phase(&self) -> Phase {
        self.phase
    }

    /// All summed since the last turn (before the first turn: since the start), less what a turn
    /// under way holds back.
    #[must_use]
    pub fn current(&self) -> Sums {
        self.turn.before().unwrap_or(self.totals).since(&self.began)
    }

    /// The usual peak flow inward; until breaths are known, what this one reached.
    const fn peak_in(&self) -> Flow {
        if self.usual.volume > 0 { self.usual.flow } else { self.seen.peak_in }
    }

    /// The totals up to now.
    #[must_use]
    pub const fn totals(&self) -> &Totals {
        &self.totals
    }

    /// Only the totals, and what breaths have been like, outlive a cut.
    fn begin_afresh(&mut self) {
        let (totals, usual) = (self.totals, self.usual);
        *self = Self::default();
        (self.totals, self.began, self.usual) = (totals, totals, usual);
    }

    /// Whether a block of 50 ms has just begun.
    #[must_use]
    pub const fn begins_block(&self) -> bool {
        self.tail.begins_block()
    }

    /// Onset of the breath under way; `None` before the first.
    #[must_use]
    pub const fn onset(&self) -> Option<Moment> {
        match self.phase {
            Phase::Unknown => None,
            Phase::Inspiration | Phase::Expiration => Some(self.open.onset),
        }
    }

    /// What was wrong so far in the breath under way.
    #[must_use]
    pub const fn flags(&self) -> Flags {
        self.seen.flags
    }

    /// Where the machine's rise of pressure began in the breath under way; `None` as long as there was none.
    #[must_use]
    pub fn risen(&self) -> Option<Moment> {
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
    pub const fn end_insp(&self) -> Moment {
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
