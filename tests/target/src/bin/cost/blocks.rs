//! Each block alone, wired as the monitor wires them.

use crate::{say_meter, say_tenths};
use tidevane::alarm::{Alarms, AlarmsState, BreathKind, BreathView};
use tidevane::breath::{Breath, Kind, Segmenter, SegmenterState};
use tidevane::leak::{
    Leak, LeakPath, LeakPathState, LeakWarmUp, LeakWindowState, ZeroDriftDetector, ZeroDriftState,
};
use tidevane::mechanics::{Fit, FitSums};
use tidevane::quantity::{Duration, Flow, Instant, Pressure, Rate, Saturated, Share, Volume};
use tidevane::signal::{End, Flags, Gate, GateOutcome, GateState, Interval, Reading};
use tidevane::trigger::{
    Cause, CauseCheck, CauseState, EffortContext, EffortState, EffortWatch, NoiseFloorState,
    SeenEffort, Synchrony, Threshold, ThresholdAdviceState, ThresholdGrid,
};
use tidevane::volume::{Limiter, LimiterState, Proposal, ProposalState};
use tidevane_target::board::clock::{Clock, Meter};
use tidevane_target::item::Item;

macro_rules! meters {
    ($($name:ident)*) => {
        #[derive(Default)]
        struct Meters { $($name: Meter),* }
        impl Meters {
            fn say(&self) { $(say_meter(stringify!($name), &self.$name);)* }
        }
    };
}
meters! {
    gate leak_correct settling segment effort fit_add limiter alarms_sensor alarms_tick
    leak_learn zero leak_window floor cause advice synchrony alarms_breath lung_volume leak_of_breath
    fit_solve proposal threshold segment_learn effort_end effort_close effort_learn
}

struct Blocks<'a> {
    clock: &'a Clock,
    meters: Meters,
    segment: Segmenter,
    path: LeakPath,
    limiter: Limiter,
    proposal: Proposal,
    alarms: &'a Alarms,
    cause: CauseCheck,
    threshold: Threshold,
    segment_state: SegmenterState,
    path_state: LeakPathState,
    settling: LeakWarmUp,
    effort: EffortState,
    fit: FitSums,
    limiter_state: LimiterState,
    alarms_state: AlarmsState,
    alarms_at: Instant,
    zero: ZeroDriftState,
    window: LeakWindowState<8>,
    floor: NoiseFloorState,
    cause_state: CauseState,
    advice: ThresholdAdviceState,
    synchrony: Synchrony,
    proposal_state: ProposalState,
    previous: End,
}

/// Runs a call, and adds what it took to a meter.
macro_rules! metered {
    ($self:ident, $meter:ident, $call:expr) => {{
        let (result, cost) = $self.clock.count(|| $call);
        $self.meters.$meter.add(cost);
        result
    }};
}

impl Blocks<'_> {
    fn step(&mut self, at: &Interval) {
        let End { flow, pressure, .. } = at.to;
        let reading = Reading { flow, pressure };
        let to = metered!(self, leak_correct, self.path.correct(&self.path_state, reading)).value;
        let step = &Interval { from: self.previous, to, ..*at };
        if self.path_state.is_guessing() {
            let settled = metered!(self, settling, self.settling.step(step));
            self.path.settle(&mut self.path_state, settled);
        }
        let closed = metered!(self, segment, self.segment.step(&mut self.segment_state, step));
        if step.at.since(self.alarms_at) >= Duration::from_millis(100) {
            self.alarms_at = step.at;
            let alarms = self.alarms;
            let state = &mut self.alarms_state;
            let _ = metered!(self, alarms_sensor, alarms.sensor(state, step.at, Duration::ZERO));
            let state = &mut self.alarms_state;
            let _ = metered!(self, alarms_tick, alarms.tick(state, step.at));
        }
        metered!(self, fit_add, self.fit.add(step, self.segment_state.totals()));
        if closed.is_some() {
            self.limiter.begin(&mut self.limiter_state, Volume::ZERO);
        }
        let (from, flow) = (step.from.lung, to.lung);
        let state = &mut self.limiter_state;
        let _ = metered!(self, limiter, self.limiter.step(state, step.span, from, flow));
        self.previous = to;
        if let Some(breath) = closed {
            self.breath(&breath);
        }
        let segment = &self.segment_state;
        let around = || EffortContext::of(segment, step.to.lung);
        let (watch, totals) = (EffortWatch::default(), segment.totals());
        let _ = metered!(self, effort, watch.step(&mut self.effort, step, totals, around));
    }

    fn breath(&mut self, breath: &Breath) {
        let path = &self.path;
        let state = &mut self.path_state;
        let unsettled = metered!(self, leak_learn, {
            let unsettled = path.judge(state, breath);
            path.learn(state, breath);
            unsettled
        });
        if unsettled != Flags::NONE {
            self.zero.restart();
        }
        let zero = ZeroDriftDetector::default();
        metered!(self, zero, zero.learn(&mut self.zero, breath));
        let breath =
            &Breath { flags: breath.flags.with(unsettled).with(self.zero.judge()), ..*breath };
        metered!(self, segment_learn, self.segment.learn(&mut self.segment_state, breath));
        metered!(self, leak_window, self.window.learn(breath));
        let modelled = path.flow_at(&self.path_state, breath.baseline).and_then(Saturated::within);
        metered!(self, floor, self.floor.learn(breath, modelled));
        let floor = self.floor.floor();
        let watch = EffortWatch::default();
        let (mut seen, effort) = (SeenEffort::default(), &mut self.effort);
        metered!(self, effort_end, watch.end_breath(effort, &mut seen));
        let (cause, pull, lag) = (&self.cause, seen.pull, self.effort.lag());
        let state = &mut self.cause_state;
        let started = metered!(self, cause, cause.step(state, breath, floor, pull, lag));
        let by_infant = started.is_some_and(|started| started.cause == Cause::Effort);
        let effort = &mut self.effort;
        let _ = metered!(self, effort_close, watch.close(effort, &mut seen, breath, by_infant));
        let effort = &mut self.effort;
        metered!(self, effort_learn, {
            watch.learn(effort, &mut seen, breath);
            watch.learn_lag(effort, breath);
        });
        let grid = ThresholdGrid::default();
        metered!(self, advice, self.advice.learn(&grid, breath, started, floor));
        let _ = metered!(self, synchrony, self.synchrony.take(breath, started));
        let kind = BreathKind::of(breath.kind, true);
        let leak = self.window.leak().share();
        let (rate, minute) = (Rate::from_int(40), Volume::from_int(200));
        let view = BreathView::of(breath, kind, leak, Some(rate), Some(minute));
        let (alarms, state) = (self.alarms, &mut self.alarms_state);
        let _ = metered!(self, alarms_breath, alarms.breath(state, &view));
        let _ = metered!(self, lung_volume, path.lung_volume(&self.path_state, breath));
        let _ = metered!(self, leak_of_breath, Leak::of_breath(breath));
        let fit = Fit::default();
        let _ = metered!(
            self,
            fit_solve,
            fit.solve_breath(&self.fit, breath, Flow::from_int(1), false)
        );
        self.fit = FitSums::default();
        let (state, expired) = (&mut self.proposal_state, breath.expired.value);
        let leak = leak.filter(|_| breath.kind == Kind::Inflation);
        let _ = metered!(self, proposal, self.proposal.step(state, breath, expired, leak));
        let _ = metered!(self, threshold, self.threshold.check(floor));
    }

    /// Tenths of instructions a sample: what the floating-point twins do too.
    fn core(&self) -> u64 {
        let m = &self.meters;
        let parts =
            [m.leak_correct, m.segment, m.fit_add, m.leak_learn, m.fit_solve, m.leak_of_breath];
        let total: u64 = parts.iter().map(|part| part.total).sum();
        total * 10 / u64::from(m.gate.calls.max(1))
    }
}

#[inline(never)]
pub(crate) fn measure(clock: &Clock, items: impl Iterator<Item = Item>) -> Option<u64> {
    let threshold = Threshold::new(Flow::from_int(2)).ok()?;
    let alarms = tidevane_target::settings::alarms().ok()?;
    let mut blocks = Blocks {
        clock,
        meters: Meters::default(),
        segment: Segmenter::default(),
        path: LeakPath::default(),
        limiter: Limiter::new(Volume::from_int(7), Duration::from_millis(20)).ok()?,
        proposal: Proposal::new(
            Volume::from_int(5),
            Pressure::from_int(3),
            Pressure::from_int(22),
            Pressure::from_int(2),
            Share::from_percent(50),
        )
        .ok()?,
        alarms: &alarms,
        cause: CauseCheck::new(Some(threshold.flow()), Some(Rate::from_int(40))).ok()?,
        threshold,
        segment_state: SegmenterState::default(),
        path_state: LeakPathState::default(),
        settling: LeakWarmUp::default(),
        effort: EffortState::default(),
        fit: FitSums::default(),
        limiter_state: LimiterState::default(),
        alarms_state: AlarmsState::default(),
        alarms_at: Instant::default(),
        zero: ZeroDriftState::default(),
        window: LeakWindowState::default(),
        floor: NoiseFloorState::default(),
        cause_state: CauseState::default(),
        advice: ThresholdAdviceState::default(),
        synchrony: Synchrony::default(),
        proposal_state: ProposalState::default(),
        previous: End::default(),
    };
    let (gate, mut state) = (Gate::default(), GateState::default());
    for item in items {
        let Item::Sample(at, reading) = item else { continue };
        let (passed, cost) = clock.count(|| gate.step(&mut state, at, reading));
        blocks.meters.gate.add(cost);
        match passed {
            GateOutcome::Step(step) => blocks.step(&step),
            GateOutcome::Start => {
                let first = blocks.path.correct(&blocks.path_state, reading).value;
                blocks.segment.start(&mut blocks.segment_state, at, &first);
                blocks.previous = first;
            }
            GateOutcome::Cut { .. } | GateOutcome::Refused(_) => return None,
        }
    }
    blocks.meters.say();
    let core = blocks.core();
    say_tenths("core fixed", core);
    Some(core)
}
