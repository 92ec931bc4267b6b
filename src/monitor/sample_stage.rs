//! What every sample needs: the gate, the leak taken off, the turn of the flow. And what the leak's
//! own learners make of the breath that a turn closes.

use crate::breath::{
    Breath, Implausible, Kind, OpenCircuit, Plausible, PlausibleState, Segmenter, SegmenterState,
    Unheard,
};
use crate::leak::{
    LeakConsistency, LeakPath, LeakPathState, LeakWarmUp, LungVolume, WarmUpOutcome,
    ZeroDriftDetector, ZeroDriftState,
};
use crate::quantity::{
    ConstDefault, Duration, Flow, Instant, Mass, Problem, SettingError, const_default,
};
use crate::record;
use crate::signal::{End, Flags, Gate, GateOutcome, GateState, Interval, Reading};

/// The settings of the sample stage: what [`Breaths`](super::Breaths) works by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct SampleStage {
    pub(super) gate: Gate,
    pub(super) flow_offset: Flow,
    pub(super) leak_path: LeakPath,
    pub(super) segment: Segmenter,
    pub(super) zero: ZeroDriftDetector,
    pub(super) plausible: Plausible,
}

const_default! {
    SampleStage: Self {
        gate: ConstDefault::DEFAULT,
        flow_offset: Flow::ZERO,
        leak_path: ConstDefault::DEFAULT,
        segment: ConstDefault::DEFAULT,
        zero: ConstDefault::DEFAULT,
        plausible: ConstDefault::DEFAULT,
    }
}

record! {
    #[const_default]
    /// What the sample stage remembers.
    #[derive(Debug, Clone, PartialEq)]
    pub(super) struct SampleState {
        gate: GateState,
        pub(super) leak_path: LeakPathState,
        settling: LeakWarmUp,
        plausible: PlausibleState,
        pub(super) segment: SegmenterState,
        unheard: Unheard,
        pub(super) circuit: OpenCircuit,
        pub(super) zero: ZeroDriftState,
        /// The end of the last interval: the next one begins there.
        previous: End,
        /// The last breath was cut out with a leak that it showed to be wrong, and so was the next one's onset.
        unsettled: bool,
    }
}

/// Flow at rest strays by so much, and no infant takes so long to set off an inflation. Chosen here, no source.
const AT_REST: Flow = Flow::from_int(1);
const LONG_REST: Duration = Duration::from_millis(250);

/// What ended the breath under way.
#[derive(Debug, Clone, Copy)]
pub(super) enum Ended {
    /// The flow turned.
    Turned,
    /// It breathes round this mean and does not turn: the leak is another one.
    Unheard(Flow),
}

/// What a closed breath showed that was not known before.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Learned {
    /// Why it, or what breaths are like, cannot be.
    pub(super) implausible: Option<Implausible>,
    /// How far the zero has drifted.
    pub(super) drift: Option<Flow>,
}

impl SampleStage {
    /// A gate; the flow sensor's zero offset, as captured, which is taken off every reading; the
    /// leak path; a segmenter; and how far the sensor's zero may stand off.
    ///
    /// # Errors
    /// `flow_offset` beyond ±50 mL/s, or half the gate's range: a sensor to replace, not correct.
    pub(super) fn new(
        gate: Gate,
        flow_offset: Flow,
        leak_path: LeakPath,
        segment: Segmenter,
        zero: ZeroDriftDetector,
    ) -> Result<Self, SettingError> {
        let most = Flow::from_int(50).min(gate.flow_limit().halved(1));
        if flow_offset.to_bits().unsigned_abs() > most.to_bits().unsigned_abs() {
            return Err(SettingError::new("flow_offset", Problem::TooLarge));
        }
        let plausible = Plausible::new(segment.inflation_rise())?;
        Ok(Self { gate, flow_offset, leak_path, segment, zero, plausible })
    }

    /// With the patient's weight, which tells what volumes are plausible and what tube is likely.
    pub(super) fn with_weight(mut self, weight: Mass) -> Self {
        self.plausible = self.plausible.with_weight(weight);
        self.leak_path = self.leak_path.with_weight(weight);
        self
    }

    /// Takes a reading through offset, gate and leak model. After [`GateOutcome::Start`] and
    /// [`GateOutcome::Cut`] the caller [starts](Self::start), after what is under way was closed.
    pub(super) fn hear(
        &self,
        state: &mut SampleState,
        at: Instant,
        reading: Reading,
    ) -> GateOutcome {
        let flow = reading.flow.saturating_sub(self.flow_offset);
        let reading = Reading { flow: flow.value, ..reading };
        let mut passed = self.gate.step(&mut state.gate, at, reading);
        if let GateOutcome::Step(interval) = &mut passed {
            let to = self.leak_path.correct(&state.leak_path, reading);
            let saturated = flow.saturated || to.saturated;
            let open = Flags::when(Flags::OPEN, state.circuit.is_open());
            interval.flags =
                interval.flags.with(Flags::when(Flags::SATURATED, saturated)).with(open);
            (interval.from, interval.to) = (state.previous, to.value);
            state.previous = to.value;
        }
        passed
    }

    /// Begins at a reading that nothing lies before.
    pub(super) fn start(&self, state: &mut SampleState, at: Instant, reading: Reading) {
        let flow = reading.flow.saturating_sub(self.flow_offset).value;
        let reading = Reading { flow, ..reading };
        state.previous = self.leak_path.correct(&state.leak_path, reading).value;
        state.circuit.start(at);
        state.unheard = Unheard::default();
        self.segment.start(&mut state.segment, at, &state.previous);
    }

    /// Takes an interval to the segmenter; where it ends the breath under way, that is to be
    /// [closed](Self::close) next.
    pub(super) fn turn(&self, state: &mut SampleState, interval: &Interval) -> Option<Ended> {
        if state.leak_path.is_guessing() {
            self.settle(state, interval);
        }
        if state.segment.begins_block()
            && let Some(mean) = self.look_back(state, interval)
        {
            return Some(Ended::Unheard(mean));
        }
        self.segment.turn(&mut state.segment, interval).then_some(Ended::Turned)
    }

    /// Before the first breath is closed: what a quiet beginning says of the leak.
    #[inline(never)]
    fn settle(&self, state: &mut SampleState, interval: &Interval) {
        let settled = state.settling.step(interval);
        self.leak_path.settle(&mut state.leak_path, settled);
        if matches!(settled, WarmUpOutcome::Quiet(_)) {
            self.segment.rest(&mut state.segment);
        }
    }

    /// Closes the breath that has ended with an interval; whether there was one.
    pub(super) fn close(
        &self,
        state: &mut SampleState,
        interval: &Interval,
        ended: Ended,
        closed: &mut Breath,
    ) -> bool {
        match ended {
            Ended::Turned => {
                self.segment.close(&mut state.segment, closed);
                true
            }
            Ended::Unheard(mean) => self.begin_again(state, interval, mean, closed),
        }
    }

    /// Every 50 ms: whether the circuit stands open, and nothing can be learned; whether the flow stood
    /// still, which moves the leak's level; and its slow mean where it breathes and nothing turns.
    #[inline(never)]
    fn look_back(&self, state: &mut SampleState, interval: &Interval) -> Option<Flow> {
        let (phase, peak) = (state.segment.phase(), state.segment.usual_peak_flow());
        if state.circuit.step(interval, peak) && state.circuit.has_lost_pressure() {
            state.unheard = Unheard::default();
            return None;
        }
        if let Some((flow, pressure)) = self.segment.still(&state.segment) {
            self.leak_path.level(&mut state.leak_path, flow, pressure);
        }
        state.unheard.step(interval.at, interval.to.flow, phase, peak)
    }

    /// The flow breathes and nothing turned: the leak model is what is wrong. All that was learned of it goes,
    /// the slow mean of the flow is the level, and the breath under way is cut.
    #[inline(never)]
    fn begin_again(
        &self,
        state: &mut SampleState,
        interval: &Interval,
        mean: Flow,
        closed: &mut Breath,
    ) -> bool {
        state.leak_path.restart(mean);
        (state.settling, state.zero) = (LeakWarmUp::default(), ZeroDriftState::default());
        let cut = self.segment.cut(&mut state.segment, Flags::UNSETTLED, closed);
        // From nothing no turn ends a breath.
        let _ = self.segment.turn(&mut state.segment, interval);
        cut
    }

    /// What the sample stage learns of a closed breath, in [`SLICES`](Self::SLICES) slices. One that cannot
    /// be teaches nothing. The leak's own learners judge it and set their flags, and learn whatever these
    /// are; the segmenter learns after all flags.
    pub(super) fn learn(&self, state: &mut SampleState, breath: &mut Breath, slice: u8) -> Learned {
        match slice {
            0 => Learned { implausible: self.judge(state, breath), drift: None },
            1 => {
                self.leak_path.conclude(&mut state.leak_path, breath);
                Learned::default()
            }
            _ => Learned { implausible: None, drift: self.conclude(state, breath) },
        }
    }

    pub(super) const SLICES: u8 = 3;

    /// Why it cannot be, where that was not known before. Flags it, and as of another leak where it is.
    #[inline(never)]
    fn judge(&self, state: &mut SampleState, breath: &mut Breath) -> Option<Implausible> {
        let was = state.plausible.now();
        let implausible = self.plausible.step(&mut state.plausible, breath);
        breath.flags = breath.flags.with(Flags::when(Flags::IMPLAUSIBLE, implausible.is_some()));
        let unsettled = self.leak_path.judge_and_take(&mut state.leak_path, breath);
        if !unsettled.is_empty() {
            // The leak is another one: what was seen of it before says nothing any more.
            state.zero.restart();
        }
        let was_unsettled = core::mem::replace(&mut state.unsettled, !unsettled.is_empty());
        let begun = was_unsettled && self.began_at_rest(state, breath);
        breath.flags = breath.flags.with(unsettled).with(Flags::when(Flags::UNSETTLED, begun));
        implausible.filter(|why| was != Some(*why))
    }

    /// Nothing but leak flowed between its onset and the rise of its pressure, and that for long: it began later.
    #[inline(never)]
    fn began_at_rest(&self, state: &SampleState, breath: &Breath) -> bool {
        let leak = self.leak_path.flow_at(&state.leak_path, breath.baseline).unwrap_or_default();
        let off = breath.lead.peak.saturating_sub(leak.value).value.magnitude();
        breath.kind == Kind::Inflation
            && off <= AT_REST.magnitude()
            && breath.lead.until.since(breath.onset) > LONG_REST
    }

    /// The offset, where a drift of the zero was not known before.
    #[inline(never)]
    fn conclude(&self, state: &mut SampleState, breath: &mut Breath) -> Option<Flow> {
        let was = state.zero.fit();
        self.zero.learn(&mut state.zero, breath);
        breath.flags = breath.flags.with(state.zero.judge());
        self.segment.learn(&mut state.segment, breath);
        state.circuit.learn(breath);
        match (was, state.zero.fit()) {
            (LeakConsistency::Drift(_), _) => None,
            (_, LeakConsistency::Drift(offset)) => Some(offset),
            _ => None,
        }
    }

    /// Why the latest measured breath cannot be.
    pub(super) const fn implausible(&self, state: &SampleState) -> Option<Implausible> {
        state.plausible.now()
    }

    /// The volume of a closed breath that reached the lung, by what has been learned so far.
    pub(super) fn lung_volume(&self, state: &SampleState, breath: &Breath) -> LungVolume {
        self.leak_path.lung_volume(&state.leak_path, breath)
    }

    /// Closes the breath under way, if any, as one that was cut.
    pub(super) fn cut(&self, state: &mut SampleState, why: Flags, closed: &mut Breath) -> bool {
        self.segment.cut(&mut state.segment, why, closed)
    }

    /// A sample is known to be lost or unreadable: the interval to the next good one is a gap.
    pub(super) fn lost(&self, state: &mut SampleState) {
        self.gate.lost(&mut state.gate);
    }

    /// Time passed without a sample, as a timer tells.
    pub(super) fn tell(&self, state: &mut SampleState, at: Instant) {
        self.gate.tell(&mut state.gate, at);
    }

    /// Forgets the last reading: the next one is a beginning.
    pub(super) fn forget_last(&self, state: &mut SampleState) {
        state.gate = GateState::default();
    }
}
