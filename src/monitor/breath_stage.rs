//! What a closed breath brings: its numbers, each worked out once, and what the blocks learn of it.
//!
//! The order, from the turn that closes the breath. A block reads only what stands above it, so that
//! none sees a number of this breath before its flags are complete.
//!
//! | block | what it does | learns from |
//! |---|---|---|
//! | segmenter | sums, extremes, all flags of measurement (noise included) | – |
//! | what is plausible | judges: `IMPLAUSIBLE`; what breaths are like | breaths without a flag of measurement so far |
//! | leak path | judges: `UNSETTLED`; learns the conductance | breaths without a flag of measurement |
//! | drift of the zero | starts afresh where unsettled; learns; judges: `ZERO_DRIFT` | breaths without a flag of measurement |
//! | segmenter | what breaths are like | trusted breaths, as all below |
//! | effort watch | the time constant of expirations | trusted |
//! | leak window, floor | share and floor; forget all where unsettled | trusted |
//! | cause | what started an inflation; keeps when the last one began, flagged or not | – |
//! | threshold advice, synchrony | counts by level; delays (counts of causes take every breath) | trusted |
//! | rate and minute volume, kind | the last eight; the peak of timed inflations | trusted |
//! | volume in the lung, fit, emptying | numbers of this breath; the time constant is kept | trusted |
//! | proposal | the next peak pressure; holds for a flagged breath | trusted |
//! | trend, alarms | values of trusted breaths; the time of every breath | trusted |
//!
//! `Flags::MEASUREMENT` are all but those of the third and fourth row; a breath is trusted that has none
//! at all.

use super::hearing::Hearing;
use super::kind::KindState;
use super::listeners::Listeners;
use super::minute::Minute;
use super::sample_stage::SampleState;
use super::{BreathReport, Event, Happening, LEAK_WINDOW, Report, Settings};
use crate::alarm::{AlarmEvent, AlarmsState, BreathKind, BreathView};
use crate::breath::{Breath, Kind, Phase};
use crate::leak::{Leak, LeakWindowState, LungVolume};
use crate::mechanics::{Bend, Emptying, FitOutcome, Jumps};
use crate::quantity::{Flow, Limited, Moment, Pressure, Span};
use crate::record;
use crate::signal::Flags;
use crate::trigger::{
    AdviceState, Cause, CauseState, Effort, FloorState, Initiation, Noise, Pull, Synchrony,
    TriggerTally,
};
use crate::volume::{LastBreath, ProposalState, Proposed};
use crate::wean::{LoadState, TrendState, Verdict};

record! {
    /// What is remembered from breath to breath.
    #[derive(Debug, Clone, PartialEq, Default)]
    pub(super) struct BreathState {
        leak_window: LeakWindowState<LEAK_WINDOW>,
        pub(super) floor: FloorState,
        cause: CauseState,
        pub(super) synchrony: Synchrony,
        pub(super) triggered: TriggerTally,
        pub(super) advice: AdviceState,
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
        time_constant: Option<Span>,
        pub(super) alarms: AlarmsState,
    }
}

/// A muscle pressure that rose so far as an inflation began makes its mechanics the infant's too. Chosen on
/// simulated infants, no source.
const WORK: Pressure = Pressure::from_milli(800).value;
/// After this long without an inflation no machine can miss an effort.
const INFLATING: Span = Span::from_millis(20_000);

impl BreathState {
    /// Whether a machine has inflated lately: only then can an effort be missed.
    pub(super) fn is_inflated_lately(&self, at: Moment) -> bool {
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

    /// Tells of an effort that got no inflation.
    pub(super) fn say_missed(&mut self, settings: &Settings, effort: Effort, report: &mut Report) {
        self.at_work = true;
        self.synchrony.miss(effort.during);
        if effort.during == Phase::Expiration {
            self.triggered.missed();
            if let Some(threshold) = settings.machine().threshold {
                self.advice.missed(&settings.grid, threshold.flow());
            }
        }
        settings.trend.missed(&mut self.trend);
        report.add(Event { at: effort.at, what: Happening::MissedEffort(effort) });
    }

    /// Takes a breath that the sample stage has closed, and puts it into the report.
    #[inline(never)]
    pub(super) fn close(
        &mut self,
        settings: &Settings,
        sample: &mut SampleState,
        listeners: &mut Listeners,
        hearing: &Hearing,
        breath: &mut Breath,
        report: &mut Report,
    ) {
        let learned = settings.sample.learn(sample, breath);
        let implausible = learned.implausible.map(Happening::Implausible);
        let drift = learned.drift.map(Happening::ZeroDrift);
        for what in [implausible, drift].into_iter().flatten() {
            report.add(Event { at: breath.end, what });
        }
        let breath = &*breath;
        let is_implausible = breath.flags.has(Flags::IMPLAUSIBLE);
        self.leak_window.learn(breath);
        let leak_window = self.leak_window.leak();
        let modelled = settings.sample.leak_path.flow_at(&sample.leak_path, breath.baseline);
        self.floor.learn(breath, modelled.and_then(Limited::within));
        let initiation = self.started_by(settings, listeners, breath, report);
        self.minute.learn(breath);
        let rates = self.minute.rates();
        let lung = settings.sample.lung_volume(sample, breath);
        let lag = listeners.lag();
        let (mechanics, bend) = self.solve(settings, listeners, breath, initiation);
        let jumps = self.jumps.step(breath.onset, &mechanics);
        for what in jumps.into_iter().flatten().map(Happening::LungChanged) {
            report.add(Event { at: breath.end, what });
        }
        let emptying = self.time_constant.filter(|_| breath.is_trusted());
        let kind = self.kind.judge(settings.machine(), breath, initiation);
        if kind == BreathKind::Assured {
            self.cause.assured();
        }
        let closed = report.breath.insert(BreathReport {
            breath: *breath,
            time: hearing.of(breath.onset),
            implausible: settings.sample.implausible(sample).filter(|_| is_implausible),
            kind,
            rate: rates.map(|(rate, _)| rate),
            minute_volume: rates.map(|(_, volume)| volume),
            leak: Leak::of_breath(breath),
            leak_window,
            lung,
            mechanics,
            lag,
            bend,
            emptying: emptying.map(|tau| Emptying::of(breath.exp_time(), tau)),
            proposal: self.propose(settings, breath, lung, leak_window),
            initiation,
            trigger: settings.machine().threshold.map(|set| set.check(self.floor.floor())),
        });
        let (trend, end) = (&settings.trend, hearing.of(breath.end));
        self.minute_ended |= trend.breath(&mut self.trend, end, &closed.for_trend());
    }

    /// The alarms of the breath that the report holds. Apart from [`close`](Self::close), so that the
    /// one's frame does not stand on the other's.
    #[inline(never)]
    pub(super) fn sound(&mut self, settings: &Settings, hearing: &Hearing, report: &mut Report) {
        if let Some(view) = report.breath.as_ref().map(BreathReport::view) {
            let view = BreathView { at: hearing.of(view.at), ..view };
            say_alarms(&settings.alarms.breath(&mut self.alarms, &view), hearing, report);
        }
    }

    /// What started an inflation, and whether an effort under its pressure was missed.
    fn started_by(
        &mut self,
        settings: &Settings,
        listeners: &mut Listeners,
        breath: &Breath,
        report: &mut Report,
    ) -> Option<Initiation> {
        let floor = self.floor.floor();
        let initiation = settings.cause.step(&mut self.cause, breath, floor, listeners.pull());
        // An infant who never started anything hides no effort under the machine's pressure.
        let active = self.synchrony.effort > 0 || self.synchrony.own > 0;
        let cause = initiation.map(|initiation| initiation.cause);
        let effort = listeners.close(settings, breath, cause == Some(Cause::Effort));
        let is_reverse = cause == Some(Cause::Timed)
            && self.synchrony.entrain(effort.and_then(|effort| effort.after));
        if let Some(effort) = effort.filter(|_| is_reverse || (active && initiation.is_some())) {
            if is_reverse {
                self.at_work = true;
                report.add(Event { at: effort.at, what: Happening::ReverseTrigger(effort) });
            } else {
                self.say_missed(settings, effort, report);
            }
        }
        self.advice.learn(&settings.grid, breath, initiation, floor);
        if let Some(initiation) = initiation {
            self.triggered.inflation(initiation);
        }
        if let Some(set) = settings.machine().threshold {
            self.triggered.quiet(breath, floor, set);
        }
        if let Some(at) = self.synchrony.take(breath, initiation) {
            report.add(Event { at, what: Happening::DoubleTrigger });
        }
        initiation
    }

    /// Compliance and resistance, straight and bent, of a passive breath.
    fn solve(
        &mut self,
        settings: &Settings,
        listeners: &mut Listeners,
        breath: &Breath,
        initiation: Option<Initiation>,
    ) -> (FitOutcome, Bend) {
        let pull = initiation.and_then(|initiation| initiation.evidence).and_then(|e| e.pull);
        let pulled = pull.is_some_and(|pull| pull.size >= WORK);
        let at_work = core::mem::take(&mut self.at_work) || pulled;
        let leak = self.floor.floor().map_or(Flow::ZERO, |floor| floor.leak);
        let noise = leak.saturating_add(self.noise().reach).value;
        let sums = listeners.fit();
        let mechanics = settings.fit.solve_breath(sums, breath, noise, at_work);
        if let FitOutcome::Known { time_constant, .. } = mechanics {
            self.time_constant = Some(time_constant);
        }
        let bend = settings.fit.solve_breath_bend(sums, breath, noise, at_work);
        listeners.begin_fit(settings);
        (mechanics, bend)
    }

    /// Minute by minute: does the infant carry the load? Judged with the sample after the breath, so
    /// that no single sample bears both.
    pub(super) fn judge_load(
        &mut self,
        settings: &Settings,
        hearing: &Hearing,
        report: &mut Report,
    ) {
        if !core::mem::take(&mut self.minute_ended) {
            return;
        }
        let was = self.load.verdict();
        if let Some(verdict) = settings.load.judge(&mut self.load, &settings.trend, &self.trend) {
            let at = hearing.own(self.trend.latest());
            report.add(Event { at, what: Happening::Load(verdict) });
            if let Verdict::StepBack(signs) = verdict
                && verdict.is_tiring()
                && !was.is_tiring()
            {
                report.add(Event { at, what: Happening::Tiring(signs) });
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
        let last = LastBreath {
            volume,
            peak: breath.peak,
            baseline: breath.baseline,
            leak: leak_window.share(),
            trusted: breath.is_trusted(),
        };
        Some(proposal.step(&mut self.proposal, &last))
    }
}

/// Tells alarms: the event on the recording's own time, the alarm in it on that of the alarms.
pub(super) fn say_alarms(events: &[AlarmEvent], hearing: &Hearing, report: &mut Report) {
    for alarm in events {
        report.add(Event { at: hearing.own(alarm.at), what: Happening::Alarm(*alarm) });
    }
}
