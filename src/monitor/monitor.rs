//! Wires the blocks together, feed-forward only: what closed breaths taught corrects the samples
//! that follow.

use super::kind::KindState;
use super::minute::Minute;
use super::{BreathReport, Event, Happening, LEAK_WINDOW, Report, Settings};
use crate::alarm::{AlarmEvent, AlarmsState, Signs};
use crate::breath::{Breath, Kind, Phase, SegmentState};
use crate::leak::{
    Leak, LeakFit, LeakPathState, LeakWindowState, LungVolume, Settled, Settling, ZeroState,
};
use crate::mechanics::{Emptying, FitOutcome, FitSums};
use crate::quantity::{Flow, Limited, Moment, Span};
use crate::signal::{Clock, End, Flags, GateState, Interval, Passed, Reading, Refusal, Sample};
use crate::trigger::{
    Advice, AdviceState, CauseState, Effort, EffortState, Expected, FloorState, Surroundings,
    Synchrony,
};
use crate::volume::{LastBreath, LimiterState, Outcome, ProposalState, Proposed};
use crate::wean::{LoadState, TrendState, Verdict};

/// The whole check, one sample at a time.
///
/// It holds all it remembers by itself: no heap, no globals. A clone goes on exactly as the
/// original would.
#[derive(Debug, Clone, PartialEq)]
pub struct Monitor {
    settings: Settings,
    clock: Clock,
    gate: GateState,
    segment: SegmentState,
    leak_path: LeakPathState,
    leak_window: LeakWindowState<LEAK_WINDOW>,
    floor: FloorState,
    zero: ZeroState,
    cause: CauseState,
    effort: EffortState,
    under_pressure: Option<Effort>,
    synchrony: Synchrony,
    advice: AdviceState,
    limiter: LimiterState,
    proposal: ProposalState,
    minute: Minute,
    kind: KindState,
    trend: TrendState,
    load: LoadState,
    /// A minute of the trend ended with the last breath and is to be judged.
    minute_ended: bool,
    fit: FitSums,
    /// The time constant of the latest passive breath.
    time_constant: Option<Span>,
    alarms: AlarmsState,
    previous: End,
    settling: Settling,
    /// Flags of the interval before, so that an event is said once.
    risen: Flags,
    refused: Option<Refusal>,
}

impl Monitor {
    /// A monitor that has heard nothing yet.
    #[must_use]
    pub fn new(settings: Settings) -> Self {
        Self {
            fit: settings.fit.begin(),
            settings,
            clock: Clock::new(),
            gate: GateState::default(),
            segment: SegmentState::default(),
            leak_path: LeakPathState::default(),
            leak_window: LeakWindowState::default(),
            floor: FloorState::default(),
            zero: ZeroState::default(),
            cause: CauseState::default(),
            effort: EffortState::default(),
            under_pressure: None,
            synchrony: Synchrony::default(),
            advice: AdviceState::default(),
            limiter: LimiterState::default(),
            proposal: ProposalState::default(),
            minute: Minute::default(),
            kind: KindState::default(),
            trend: TrendState::default(),
            load: LoadState::default(),
            minute_ended: false,
            time_constant: None,
            alarms: AlarmsState::default(),
            previous: End::default(),
            settling: Settling::default(),
            risen: Flags::NONE,
            refused: None,
        }
    }

    /// The settings it works by.
    #[must_use]
    pub const fn settings(&self) -> &Settings {
        &self.settings
    }

    /// The settings were changed at a moment: what follows is judged by the new ones, what was
    /// learned is kept. Where rate, peak or support changed a step of weaning begins: its trend
    /// starts anew, and the minutes before are kept to hold it against (not for a trial without
    /// inflations, which the published tests judge by rules of their own). The report tells either.
    pub fn settings_changed(&mut self, at: Moment, settings: Settings) -> Report {
        let mut report = Report::default();
        self.judge(&mut report);
        let (was, now) = (*self.settings.machine(), *settings.machine());
        self.settings = settings;
        if now.is_step_from(&was) {
            self.settings.trend.rebase(&mut self.trend, at, !now.is_without_inflations());
            self.settings.load.rebase(&mut self.load);
            report.add(Event { at, what: Happening::WeanStep(now) });
        } else if now != was {
            report.add(Event { at, what: Happening::SettingsChanged(now) });
        }
        report
    }

    /// The minutes of the present step.
    #[must_use]
    pub const fn trend(&self) -> &TrendState {
        &self.trend
    }

    /// What is made of the present step: of load alone, and only as advice.
    #[must_use]
    pub const fn verdict(&self) -> Verdict {
        self.load.verdict()
    }

    /// What another monitor shows of heart and saturation now, for the apnoea alarm.
    pub const fn signs(&mut self, signs: Signs) {
        self.settings.alarms.signs(&mut self.alarms, signs);
    }

    /// Counts of causes, missed efforts and double triggers, and trigger delays.
    #[must_use]
    pub const fn synchrony(&self) -> &Synchrony {
        &self.synchrony
    }

    /// Whether the learned leak explains the flow, or the sensor's zero has drifted.
    #[must_use]
    pub const fn leak_fit(&self) -> LeakFit {
        self.zero.fit()
    }

    /// The alarms that ring, and those that were acknowledged.
    #[must_use]
    pub const fn alarms(&self) -> &AlarmsState {
        &self.alarms
    }

    /// Which threshold of the grid stands between floor and effort.
    #[must_use]
    pub fn threshold_advice(&self) -> Advice {
        self.advice.advise(&self.settings.grid, self.floor.floor())
    }

    /// What each threshold of the grid would mean.
    pub fn threshold_table(&self) -> impl Iterator<Item = Expected> + '_ {
        self.advice.table(&self.settings.grid)
    }

    /// Takes one sample with the hardware's wrapping tick. Never panics, whatever it holds.
    pub fn push(&mut self, sample: Sample) -> Report {
        let mut report = Report::default();
        self.push_into(sample, &mut report);
        report
    }

    /// As [`push`](Self::push), into a report that the caller keeps: what it held is dropped. On a
    /// small core this saves a copy that costs as much as all else of most pushes.
    pub fn push_into(&mut self, sample: Sample, report: &mut Report) {
        let at = self.clock.unwrap_tick(sample.tick);
        let reading = Reading { flow: sample.flow, pressure: sample.pressure };
        self.push_at_into(at, reading, report);
        if report.events.iter().any(|e| matches!(e.what, Happening::ClockReset { .. })) {
            self.clock.reset_to(sample.tick, at);
        }
    }

    /// Takes one reading at a moment that does not wrap: for recordings. Use one of the two ways,
    /// not both.
    pub fn push_at(&mut self, at: Moment, reading: Reading) -> Report {
        let mut report = Report::default();
        self.push_at_into(at, reading, &mut report);
        report
    }

    /// As [`push_at`](Self::push_at), into a report that the caller keeps.
    pub fn push_at_into(&mut self, at: Moment, reading: Reading, report: &mut Report) {
        report.clear();
        let flow = reading.flow.saturating_sub(self.settings.flow_offset);
        let reading = Reading { flow: flow.value, pressure: reading.pressure };
        match self.settings.gate.step(&mut self.gate, at, reading) {
            Passed::Start => self.start(at, reading),
            Passed::Step(interval) => self.step(interval, reading, flow.saturated, report),
            Passed::Cut { since, flags } => {
                self.cut(flags, report);
                let what = if at > since {
                    Happening::Gap { since, cut: true }
                } else {
                    Happening::ClockReset { since }
                };
                report.add(Event { at, what });
                self.start(at, reading);
            }
            Passed::Refused(refusal) => {
                if self.refused != Some(refusal) {
                    report.add(Event { at, what: Happening::Refused(refusal) });
                }
                self.refused = Some(refusal);
            }
        }
    }

    /// A sample is known to be lost or unreadable: the interval to the next good one is a gap.
    pub fn lost(&mut self) {
        self.settings.gate.lost(&mut self.gate);
    }

    /// Closes the breath under way, flagged as cut: at the end of a recording. A monitor that goes
    /// on afterwards begins afresh but keeps what it has learned.
    pub fn finish(&mut self) -> Report {
        let mut report = Report::default();
        self.cut(Flags::NONE, &mut report);
        self.judge(&mut report);
        self.gate = GateState::default();
        report
    }

    fn start(&mut self, at: Moment, reading: Reading) {
        let first = self.settings.leak_path.correct(&self.leak_path, reading).value;
        self.settings.segment.start(&mut self.segment, at, &first);
        self.previous = first;
        self.settings.limiter.iter().for_each(|limiter| limiter.end(&mut self.limiter));
        self.risen = Flags::NONE;
        self.refused = None;
    }

    fn step(&mut self, mut step: Interval, reading: Reading, saturated: bool, report: &mut Report) {
        let to = self.settings.leak_path.correct(&self.leak_path, reading);
        step.flags = step.flags.with(Flags::when(Flags::SATURATED, saturated || to.saturated));
        (step.from, step.to) = (self.previous, to.value);
        self.say_flags(&step, report);
        self.judge(report);
        self.refused = None;
        if self.leak_path.is_guessing() {
            let settled = self.settling.step(&step);
            self.settings.leak_path.settle(&mut self.leak_path, settled);
            if matches!(settled, Settled::Quiet(_)) {
                self.settings.segment.rest(&mut self.segment);
            }
        }
        let before = self.segment.phase();
        let closed = self.settings.segment.step(&mut self.segment, &step);
        self.watch(&step, report);
        self.fit.add(&step, self.segment.totals());
        self.limit(before, closed.is_some(), &step, report);
        self.previous = to.value;
        match closed {
            Some(breath) => report.breath = Some(self.learn(breath, report)),
            None => self.watch_alarms(&step, report),
        }
    }

    /// One event for each gap, and for each other flag that was not up in the interval before.
    fn say_flags(&mut self, step: &Interval, report: &mut Report) {
        let before = core::mem::replace(&mut self.risen, step.flags);
        if step.flags.is_clear() {
            return;
        }
        for flag in [Flags::GAP, Flags::STUCK, Flags::CLIPPED] {
            if step.flags.has(flag)
                && (flag == Flags::GAP || !before.has(flag))
                && let Some(what) = Happening::of_flag(flag, step.start())
            {
                report.add(Event { at: step.at, what });
            }
        }
    }

    fn watch(&mut self, step: &Interval, report: &mut Report) {
        // An effort is missed only where a machine inflates.
        if self.cause.since_inflation(step.at).is_none_or(|since| since > INFLATING) {
            return;
        }
        let noise = self.floor.floor().and_then(|floor| floor.noise).unwrap_or_default();
        let phase = self.segment.phase();
        let surroundings = Surroundings {
            phase,
            inflated: phase == Phase::Inspiration
                && self.settings.segment.is_inflated(&self.segment, step.to.pressure),
            reach: noise.reach,
            usual_peak: self.segment.usual_peak_flow(),
        };
        match self.settings.effort.step(&mut self.effort, step, self.segment.totals(), surroundings)
        {
            Some(effort) if effort.during == Phase::Expiration => self.say_missed(effort, report),
            // Under pressure it may be the effort that started the inflation: told when the cause
            // is known.
            Some(effort) => self.under_pressure = Some(effort),
            None => {}
        }
    }

    /// Tells the alarms of the time and the sensor, ten times a second; of the time with the sample
    /// after where there was something to say of the sensor, or a breath's alarms come first.
    fn watch_alarms(&mut self, step: &Interval, report: &mut Report) {
        if self.alarms.ticked().is_some_and(|last| step.at.since(last) < ALARM_TICK) {
            return;
        }
        let alarms = &self.settings.alarms;
        let faulty = step.flags.has(Flags::STUCK) || step.flags.has(Flags::GAP);
        let events = alarms.sensor(&mut self.alarms, step.at, faulty);
        if events.is_empty() {
            say_alarms(&alarms.tick(&mut self.alarms, step.at), report);
        } else {
            say_alarms(&events, report);
        }
    }

    fn say_missed(&mut self, effort: Effort, report: &mut Report) {
        self.synchrony.miss();
        self.settings.trend.missed(&mut self.trend);
        report.add(Event { at: effort.at, what: Happening::MissedEffort(effort) });
    }

    fn limit(&mut self, was: Phase, opened: bool, step: &Interval, report: &mut Report) {
        let Some(limiter) = self.settings.limiter else { return };
        let now = self.segment.phase();
        if opened || (was == Phase::Unknown && now == Phase::Inspiration) {
            let moved = self.settings.leak_path.into_lung(&self.leak_path, &self.segment.current());
            limiter.begin(&mut self.limiter, moved.value);
            // The interval is part of what moved: ask at its end.
            let outcome = limiter.step(&mut self.limiter, Span::ZERO, step.to.lung, step.to.lung);
            say_limit(outcome, step.at, report);
        } else if now == Phase::Inspiration && !step.flags.has(Flags::GAP) {
            let outcome = limiter.step(&mut self.limiter, step.span, step.from.lung, step.to.lung);
            say_limit(outcome, step.at, report);
        } else if was == Phase::Inspiration && now != was {
            limiter.end(&mut self.limiter);
        }
    }

    fn learn(&mut self, mut breath: Breath, report: &mut Report) -> BreathReport {
        let path = &self.settings.leak_path;
        let settled = path.learn(&mut self.leak_path, &breath);
        if !settled {
            // The leak is another one: what was seen of it before says nothing any more.
            self.zero.restart();
            self.floor = FloorState::default();
            self.leak_window = LeakWindowState::default();
        }
        let was = self.zero.fit();
        let fit = self.settings.zero.step(&mut self.zero, path, &self.leak_path, &breath);
        self.settings.segment.count_from(&mut self.segment, self.zero.drifted_quiet());
        if let LeakFit::Drift(offset) = fit {
            breath.flags = breath.flags.with(Flags::ZERO_DRIFT);
            if !matches!(was, LeakFit::Drift(_)) {
                report.add(Event { at: breath.end, what: Happening::ZeroDrift(offset) });
            }
        }
        breath.flags = breath.flags.with(Flags::when(Flags::UNSETTLED, !settled));
        self.leak_window.learn(&breath);
        let modelled = self.settings.leak_path.flow_at(&self.leak_path, breath.baseline);
        self.floor.learn(&breath, modelled.and_then(Limited::within));
        let floor = self.floor.floor();
        let initiation = self.settings.cause.step(&mut self.cause, &breath, floor);
        // An infant who never started anything hides no effort under the machine's pressure.
        let active = self.synchrony.effort > 0 || self.synchrony.own > 0;
        if let Some(effort) = self.under_pressure.take()
            && active
            && initiation.is_some_and(|initiation| initiation.cause.is_by_machine())
        {
            self.say_missed(effort, report);
        }
        self.advice.learn(&self.settings.grid, &breath, initiation, floor);
        if let Some(at) = self.synchrony.take(&breath, initiation) {
            report.add(Event { at, what: Happening::DoubleTrigger });
        }
        self.minute.learn(&breath);
        let rates = self.minute.rates();
        let kind = self.kind.judge(self.settings.machine(), &breath, initiation);
        let lung = self.settings.leak_path.lung_volume(&self.leak_path, &breath);
        let floor_reach = floor.and_then(|floor| floor.noise).unwrap_or_default().reach;
        let leak = floor.map_or(Flow::ZERO, |floor| floor.leak);
        let noise = leak.saturating_add(floor_reach).value;
        // The samples since the turn was confirmed: the equation of motion holds across breaths, so
        // a few of the next one do no harm.
        let mechanics = self.settings.fit.solve_breath(&self.fit, &breath, noise);
        let bend = self.settings.fit.solve_breath_bend(&self.fit, &breath, noise);
        self.fit = self.settings.fit.begin();
        if let FitOutcome::Known { time_constant, .. } = mechanics {
            self.time_constant = Some(time_constant);
        }
        let emptying = self.time_constant.filter(|_| breath.is_trusted());
        let closed = BreathReport {
            breath,
            kind,
            rate: rates.map(|(rate, _)| rate),
            minute_volume: rates.map(|(_, volume)| volume),
            leak: Leak::of_breath(&breath),
            leak_window: self.leak_window.leak(),
            lung,
            mechanics,
            bend,
            emptying: emptying.map(|tau| Emptying::of(breath.exp_time(), tau)),
            proposal: self.propose(&breath, lung),
            initiation,
            trigger: self.settings.machine().threshold.map(|set| set.check(floor)),
        };
        let events = self.settings.alarms.breath(&mut self.alarms, &closed.view());
        say_alarms(&events, report);
        let trend = &self.settings.trend;
        self.minute_ended |= trend.breath(&mut self.trend, closed.breath.end, &closed.for_trend());
        closed
    }

    /// Minute by minute: does the infant carry the load? Judged with the sample after the breath, so
    /// that no single sample bears both.
    fn judge(&mut self, report: &mut Report) {
        if !core::mem::take(&mut self.minute_ended) {
            return;
        }
        let (load, trend, at) = (&self.settings.load, &self.settings.trend, self.trend.latest());
        if let Some(verdict) = load.judge(&mut self.load, trend, &self.trend) {
            report.add(Event { at, what: Happening::Load(verdict) });
        }
    }

    /// After an inflation, for the volume in the lung where that is known.
    fn propose(&mut self, breath: &Breath, lung: LungVolume) -> Option<Proposed> {
        let proposal = self.settings.proposal.filter(|_| breath.kind == Kind::Inflation)?;
        let volume = match lung {
            LungVolume::Known { volume, .. } => volume,
            LungVolume::Unknown(_) => breath.expired().value,
        };
        let last = LastBreath {
            volume,
            peak: breath.peak,
            baseline: breath.baseline,
            leak: self.leak_window.leak().share(),
            trusted: breath.is_trusted(),
        };
        Some(proposal.step(&mut self.proposal, &last))
    }

    fn cut(&mut self, why: Flags, report: &mut Report) {
        let closed = self.settings.segment.finish(&mut self.segment, why);
        if let Some(breath) = closed {
            report.breath = Some(self.learn(breath, report));
        }
    }
}

/// After this long without an inflation no machine can miss an effort.
const INFLATING: Span = Span::from_millis(20_000);
/// How often the alarms are told of the time.
const ALARM_TICK: Span = Span::from_millis(100);

fn say_alarms(events: &[AlarmEvent], report: &mut Report) {
    for alarm in events {
        report.add(Event { at: alarm.at, what: Happening::Alarm(*alarm) });
    }
}

fn say_limit(outcome: Outcome, at: Moment, report: &mut Report) {
    if let Outcome::Stop { moved } = outcome {
        report.add(Event { at, what: Happening::LimitReached(moved) });
    }
}
