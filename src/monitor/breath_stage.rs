//! What a closed breath brings: its numbers, each worked out once, and what the blocks learn of it.
//!
//! One slice with each sample after the one that found its end ([`Closing`](super::closing::Closing)). A block
//! reads only what stands above it, so that none sees a number of this breath before its flags are complete.
//!
//! | slice | block | what it does | learns from |
//! |---|---|---|---|
//! | – | segmenter | sums, extremes, all flags of measurement (noise included) | – |
//! | 0 | what is plausible | judges: `IMPLAUSIBLE`; what breaths are like | breaths without a flag of measurement so far |
//! | 0 | leak path | judges: `UNSETTLED`; takes the breath as evidence | breaths without a flag of measurement |
//! | 1 | leak path | concludes the conductance from it | breaths without a flag of measurement |
//! | 2 | drift of the zero | starts afresh where unsettled; learns; judges: `ZERO_DRIFT` | breaths without a flag of measurement |
//! | 2 | segmenter | what breaths are like | trusted breaths, as all below |
//! | 2 | leak window, floor | share and floor; forget all where unsettled | trusted |
//! | 2 | cause | what started an inflation; keeps when the last one began, flagged or not | – |
//! | 2 | effort watch | an effort under the pressure; how far the muscle pressure usually rises | trusted |
//! | 3 | threshold advice, synchrony | counts by level; delays (counts of causes take every breath) | trusted |
//! | 3 | volume in the lung, rate and minute volume, kind | the last eight; the peak of timed inflations | trusted |
//! | 3 | proposal | the next peak pressure; holds for a flagged breath | trusted |
//! | 4 to 6 | fit, straight and bent, emptying | numbers of this breath; the time constant is kept | trusted |
//! | 5 | effort watch | the terms of the equation of motion | trusted |
//! | 6 | trend | values of trusted breaths; the time of every breath | trusted |
//! | 7 | effort watch | the lag of flow behind pressure, by these terms | trusted |
//! | 7 | alarms | values of trusted breaths; the time of every breath | trusted |
//!
//! `Flags::MEASUREMENT` are all but `UNSETTLED` and `ZERO_DRIFT`; a breath is trusted that has none at all.

use super::closing::Closing;
use super::hearing::{Hearing, Shift};
use super::kind::KindState;
use super::listeners::Listeners;
use super::minute::Minute;
use super::sample_stage::SampleState;
use super::{Event, EventKind, LEAK_WINDOW, Report, Settings};
use crate::alarm::{AlarmEvent, AlarmsState, BreathKind, BreathView};
use crate::breath::{Breath, DEAD_SPACE, Kind, Phase};
use crate::leak::{Leak, LeakWindowState, LungVolume};
use crate::mechanics::{Emptying, FitOutcome, Jumps, NonlinearElastance};
use crate::quantity::{Duration, Flow, Instant, Pressure, Saturated};
use crate::record;
use crate::signal::Flags;
use crate::trend::{LoadState, LoadVerdict, TrendState};
use crate::trigger::{
    Cause, CauseState, Effort, Noise, NoiseFloorState, Pull, Synchrony, ThresholdAdviceState,
    TriggerTally,
};
use crate::volume::{ProposalState, Proposed};

record! {
    #[const_default]
    /// What is remembered from breath to breath.
    #[derive(Debug, Clone, PartialEq)]
    pub(super) struct BreathState {
        leak_window: LeakWindowState<LEAK_WINDOW>,
        pub(super) floor: NoiseFloorState,
        cause: CauseState,
        pub(super) synchrony: Synchrony,
        pub(super) triggered: TriggerTally,
        pub(super) advice: ThresholdAdviceState,
        proposal: ProposalState,
        minute: Minute,
        kind: KindState,
        pub(super) trend: TrendState,
        pub(super) load: LoadState,
        /// An effort set nothing off since the last breath was closed.
        at_work: bool,
        /// A minute of the trend ended with the last breath and is to be judged.
        minute_ended: bool,
        jumps: Jumps,
        /// The time constant of the latest passive breath.
        time_constant: Option<Duration>,
        pub(super) alarms: AlarmsState,
    }
}

/// A muscle pressure that rose so far as an inflation began makes its mechanics the infant's too. Chosen on
/// simulated infants, no source.
const WORK: Pressure = Pressure::from_milli(800).value;
/// After this long without an inflation no machine can miss an effort. Chosen here, no source.
const INFLATING: Duration = Duration::from_millis(20_000);

/// Of the dead space. Chosen here, no source: a heart moves as much gas in the airway, and no infant lives on that.
const QUARTER: u32 = 2;

/// Whether an own breath, certain as it is, moved less than a quarter of the dead space: the heart may have made it, and
/// it ends no apnoea. Unknown without a weight.
fn is_hardly_one(settings: &Settings, view: &BreathView) -> bool {
    let Some(weight) = settings.weight() else { return false };
    let least = DEAD_SPACE.for_each_kg(weight).value.halved(QUARTER);
    let moved = view.inspired.zip(view.most_out).map(|(inward, out)| inward.max(out));
    view.kind == BreathKind::Own && view.trusted && moved.is_some_and(|moved| moved < least)
}

impl BreathState {
    /// Whether a machine has inflated lately: only then can an effort be missed.
    pub(super) fn is_inflated_lately(&self, at: Instant) -> bool {
        self.cause.since_inflation(at).is_some_and(|since| since <= INFLATING)
    }

    /// Whether an effort set nothing off since the last breath was closed, or the infant pulled as the inflation
    /// under way began: its mechanics will not be asked for. Without a floor no cause is found, and none of
    /// its evidence.
    pub(super) fn is_at_work(&self, pull: Option<Pull>) -> bool {
        self.at_work || (pull.is_some_and(|pull| pull.size >= WORK) && self.floor.floor().is_some())
    }

    /// The recording's clock was set back: no moment before that can be counted from.
    pub(super) fn forget_times(&mut self) {
        self.cause = CauseState::default();
    }

    /// Noise and ripple of the quiet flow, as far as known.
    pub(super) fn noise(&self) -> Noise {
        self.floor.floor().and_then(|floor| floor.noise).unwrap_or_default()
    }

    /// Tells of an effort in the breath under way that got no inflation.
    pub(super) fn say_missed(&mut self, settings: &Settings, effort: Effort, report: &mut Report) {
        self.at_work = true;
        self.count_missed(settings, effort, report);
    }

    fn count_missed(&mut self, settings: &Settings, effort: Effort, report: &mut Report) {
        self.synchrony.miss(effort.during);
        if effort.during == Phase::Expiration {
            self.triggered.missed();
            if let Some(threshold) = settings.machine().threshold {
                self.advice.missed(&settings.grid, threshold.flow());
            }
        }
        settings.trend.missed(&mut self.trend);
        report.add(Event { at: effort.at, what: EventKind::MissedEffort(effort) });
    }

    /// What was held against the breath under way, which ends.
    pub(super) fn take_work(&mut self) -> bool {
        core::mem::take(&mut self.at_work)
    }

    /// Works out the next slice of a closed breath; with the last one it stands in the report.
    pub(super) fn step(
        &mut self,
        settings: &Settings,
        sample: &mut SampleState,
        listeners: &mut Listeners,
        closing: &mut Closing,
        report: &mut Report,
    ) {
        let slice = closing.slice;
        closing.slice = slice.saturating_add(1);
        match slice {
            0 | 1 => learn(settings, sample, closing, slice, report),
            2 => {
                learn(settings, sample, closing, slice, report);
                self.find_cause(settings, sample, closing);
                self.find_effort(settings, listeners, closing, report);
            }
            3 => {
                self.count_cause(settings, closing, report);
                let Closing { told, .. } = closing;
                told.lung = settings.sample.lung_volume(sample, &told.breath);
                self.take_volumes(settings, sample, closing);
            }
            4 => self.fit(settings, closing),
            5 => {
                listeners.learn(settings, &mut closing.seen, &closing.told.breath);
                self.begin_bend(settings, closing);
            }
            6 => {
                end_bend(settings, closing);
                self.conclude(settings, closing, report);
            }
            _ => {
                listeners.learn_lag(settings, &closing.told.breath);
                self.sound(settings, closing, report);
            }
        }
    }

    /// Share and floor of the leak; what started an inflation.
    #[inline(never)]
    fn find_cause(&mut self, settings: &Settings, sample: &SampleState, closing: &mut Closing) {
        let Closing { told, seen, .. } = closing;
        let breath = &told.breath;
        self.leak_window.learn(breath);
        let modelled = settings.sample.leak_path.flow_at(&sample.leak_path, breath.baseline);
        self.floor.learn(breath, modelled.and_then(Saturated::within));
        let floor = self.floor.floor();
        told.initiation = settings.cause.step(&mut self.cause, breath, floor, seen.pull, told.lag);
    }

    /// Whether an effort under the pressure of an inflation was missed.
    #[inline(never)]
    fn find_effort(
        &mut self,
        settings: &Settings,
        listeners: &mut Listeners,
        closing: &mut Closing,
        report: &mut Report,
    ) {
        let Closing { told, seen, at_work, .. } = closing;
        let cause = told.initiation.as_ref().map(|initiation| initiation.cause);
        let by_infant = cause == Some(Cause::Effort);
        // An infant who never started anything hides no effort under the machine's pressure.
        let active = self.synchrony.effort > 0 || self.synchrony.own > 0;
        let effort = listeners.close(settings, seen, &told.breath, by_infant);
        let is_reverse = cause == Some(Cause::Timed)
            && self.synchrony.entrain(effort.and_then(|effort| effort.after));
        if let Some(effort) = effort.filter(|_| is_reverse || (active && cause.is_some())) {
            *at_work = true;
            if is_reverse {
                report.add(Event { at: effort.at, what: EventKind::ReverseTrigger(effort) });
            } else {
                self.count_missed(settings, effort, report);
            }
        }
    }

    /// Counts by cause.
    #[inline(never)]
    fn count_cause(&mut self, settings: &Settings, closing: &mut Closing, report: &mut Report) {
        let Closing { told, .. } = closing;
        let (breath, initiation, floor) = (&told.breath, told.initiation, self.floor.floor());
        self.advice.learn(&settings.grid, breath, initiation, floor);
        if let Some(initiation) = initiation {
            self.triggered.inflation(initiation);
        }
        if let Some(set) = settings.machine().threshold {
            self.triggered.quiet(breath, floor, set);
        }
        if let Some(at) = self.synchrony.take(breath, initiation) {
            report.add(Event { at, what: EventKind::DoubleTrigger });
        }
    }

    /// What rests on cause and volumes.
    #[inline(never)]
    fn take_volumes(&mut self, settings: &Settings, sample: &SampleState, closing: &mut Closing) {
        let Closing { told, .. } = closing;
        let breath = &told.breath;
        self.minute.learn(breath);
        (told.rate, told.minute_volume) = self.minute.rates().unzip();
        told.kind = self.kind.judge(settings.machine(), breath, told.initiation);
        if told.kind == BreathKind::Assured {
            self.cause.assured();
        }
        let is_implausible = breath.flags.has(Flags::IMPLAUSIBLE);
        told.implausible = settings.sample.implausible(sample).filter(|_| is_implausible);
        told.leak = Leak::of_breath(breath);
        told.leak_window = self.leak_window.leak();
        told.proposal = self.propose(settings, breath, told.lung, told.leak_window);
    }

    /// Compliance and resistance of a passive breath.
    #[inline(never)]
    fn fit(&mut self, settings: &Settings, closing: &mut Closing) {
        let Closing { told, fit, at_work, .. } = closing;
        let evidence = told.initiation.and_then(|initiation| initiation.evidence);
        let pull = evidence.and_then(|evidence| evidence.pull);
        *at_work |= pull.is_some_and(|pull| pull.size >= WORK);
        told.mechanics = settings.fit.solve_breath(fit, &told.breath, self.quiet_reach(), *at_work);
        if let FitOutcome::Known { time_constant, .. } = told.mechanics {
            self.time_constant = Some(time_constant);
        }
    }

    /// The first half of the same, bent.
    #[inline(never)]
    fn begin_bend(&mut self, settings: &Settings, closing: &mut Closing) {
        let Closing { told, fit, curve, is_bent, at_work, .. } = closing;
        let noise = self.quiet_reach();
        let line = &told.mechanics;
        let begun = settings.fit.begin_bend(fit, &told.breath, noise, *at_work, line, curve);
        *is_bent = begun.is_ok();
        if let Err(why) = begun {
            told.bend = NonlinearElastance::Unknown(why);
        }
    }

    /// Flow below which nothing of a breath is told from noise.
    fn quiet_reach(&self) -> Flow {
        let leak = self.floor.floor().map_or(Flow::ZERO, |floor| floor.leak);
        leak.saturating_add(self.noise().reach).value
    }

    /// What rests on compliance and resistance; the trend.
    #[inline(never)]
    fn conclude(&mut self, settings: &Settings, closing: &mut Closing, report: &mut Report) {
        let Closing { told, shift, .. } = closing;
        let breath = &told.breath;
        let jumps = self.jumps.step(breath.onset, &told.mechanics);
        for what in jumps.into_iter().flatten().map(EventKind::LungChanged) {
            report.add(Event { at: breath.end, what });
        }
        let emptying = self.time_constant.filter(|_| breath.is_trusted());
        told.emptying = emptying.map(|tau| Emptying::of(breath.exp_time(), tau));
        told.trigger = settings.machine().threshold.map(|set| set.check(self.floor.floor()));
        let end = shift.of(breath.end);
        self.minute_ended |= settings.trend.breath(&mut self.trend, end, &told.for_trend());
    }

    /// The alarms of the breath, which goes into the report.
    #[inline(never)]
    fn sound(&mut self, settings: &Settings, closing: &Closing, report: &mut Report) {
        let Closing { told, shift, .. } = closing;
        let view = told.view();
        let drawn = view.drawn && !is_hardly_one(settings, &view);
        let view = BreathView { at: shift.of(view.at), drawn, ..view };
        let say = &mut |alarm| say_alarm(alarm, *shift, report);
        settings.alarms.say_breath(&mut self.alarms, &view, say);
        report.breath = Some(*told);
    }

    /// Minute by minute: does the infant carry the load? Judged with the sample after the breath, so
    /// that no single sample bears both.
    #[inline(always)]
    pub(super) fn judge_load(
        &mut self,
        settings: &Settings,
        hearing: &Hearing,
        listeners: &Listeners,
        report: &mut Report,
    ) {
        if core::mem::take(&mut self.minute_ended) {
            self.judge_minute(settings, hearing, listeners.ripple(), report);
        }
    }

    #[inline(never)]
    fn judge_minute(
        &mut self,
        settings: &Settings,
        hearing: &Hearing,
        ripple: Pressure,
        report: &mut Report,
    ) {
        let was = self.load.verdict();
        let triggered = &self.triggered;
        let is_doubtful = || triggered.is_doubtful(ripple);
        let verdict =
            settings.load.judge(&mut self.load, &settings.trend, &self.trend, is_doubtful);
        if let Some(verdict) = verdict {
            let at = hearing.own(self.trend.latest());
            report.add(Event { at, what: EventKind::Load(verdict) });
            if let LoadVerdict::StepBack(signs) = verdict
                && verdict.is_tiring()
                && !was.is_tiring()
            {
                report.add(Event { at, what: EventKind::Tiring(signs) });
            }
        }
    }

    /// After an inflation, for the volume in the lung where that is known.
    fn propose(
        &mut self,
        settings: &Settings,
        breath: &Breath,
        lung: LungVolume,
        leak_window: Leak,
    ) -> Option<Proposed> {
        let proposal = settings.proposal.filter(|_| breath.kind == Kind::Inflation)?;
        let volume = match lung {
            LungVolume::Known { volume, .. } => volume,
            LungVolume::Unknown(_) => breath.expired.value,
        };
        Some(proposal.step(&mut self.proposal, breath, volume, leak_window.share()))
    }
}

/// What the leak's own learners make of it.
fn learn(
    settings: &Settings,
    sample: &mut SampleState,
    closing: &mut Closing,
    slice: u8,
    report: &mut Report,
) {
    let breath = &mut closing.told.breath;
    let learned = settings.sample.learn(sample, breath, slice);
    if let Some(why) = learned.implausible {
        report.add(Event { at: breath.end, what: EventKind::Implausible(why) });
    }
    if let Some(offset) = learned.drift {
        report.add(Event { at: breath.end, what: EventKind::ZeroDrift(offset) });
    }
}

/// The second half of the bent fit.
#[inline(never)]
fn end_bend(settings: &Settings, closing: &mut Closing) {
    if closing.is_bent {
        closing.told.bend = settings.fit.end_bend(&closing.fit, &closing.curve);
    }
}

/// Tells an alarm: the event on the recording's own time, the alarm in it on that of the alarms.
pub(super) fn say_alarm(alarm: AlarmEvent, shift: Shift, report: &mut Report) {
    report.add(Event { at: shift.own(alarm.at), what: EventKind::Alarm(alarm) });
}
