//! Conducts the two stages and the blocks that listen between them, feed-forward only: what closed
//! breaths taught corrects the samples that follow.

use super::breath_stage::{BreathState, say_alarms};
use super::hearing::Hearing;
use super::listeners::Listeners;
use super::sample_stage::SampleState;
use super::{Event, Happening, Report, Settings};
use crate::alarm::{AlarmsState, Condition, Signs};
use crate::breath::{Breath, Phase};
use crate::leak::LeakFit;
use crate::quantity::{Moment, Record, Sink, Span, Tick};
use crate::signal::{Clock, Flags, Interval, Passed, Reading, Refusal, Sample};
use crate::trigger::{
    Advice, Expected, Synchrony, ThresholdEvidence, ThresholdJudgement, TriggerTally,
};
use crate::wean::{NoVerdict, TrendState, Verdict};

/// The whole check, one sample at a time.
///
/// It holds all it remembers by itself: no heap, no globals. A clone goes on exactly as the
/// original would.
#[derive(Debug, Clone, PartialEq)]
pub struct Monitor {
    settings: Settings,
    clock: Clock,
    hearing: Hearing,
    sample: SampleState,
    listeners: Listeners,
    breath: BreathState,
    /// Flags of the interval before, so that an event is said once.
    risen: Flags,
    refused: Option<Refusal>,
}

/// Whether the infant breathes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Breathing {
    /// Breaths were drawn within the time of the apnoea alarm.
    Breathes,
    /// None was for as long.
    Apnoea,
    /// Nothing usable comes from the sensor, or the circuit stands open.
    CannotTell,
}

impl Monitor {
    /// A monitor that has heard nothing yet.
    #[must_use]
    pub fn new(settings: Settings) -> Self {
        Self {
            listeners: Listeners::new(&settings),
            settings,
            clock: Clock::new(),
            hearing: Hearing::default(),
            sample: SampleState::default(),
            breath: BreathState::default(),
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
    /// starts anew, and the minutes before are kept to hold it against. The report tells either.
    ///
    /// A moment before the last sample, or more than a second after it, is taken for now.
    pub fn settings_changed(&mut self, at: Moment, settings: Settings) -> Report {
        let mut report = Report::default();
        let changed = self.hearing.near(at);
        let at = changed.map_or(at, |changed| self.hearing.own(changed));
        self.breath.judge_load(&self.settings, &self.hearing, &mut report);
        let (was, now) = (*self.settings.machine(), *settings.machine());
        self.settings = settings;
        let (settings, breath) = (&self.settings, &mut self.breath);
        if now.threshold != was.threshold {
            breath.triggered = TriggerTally::default();
        }
        if now.is_step_from(&was) {
            // Before anything was heard the trend begins by itself.
            if let Some(changed) = changed {
                settings.trend.rebase(&mut breath.trend, changed);
            }
            settings.load.rebase(&mut breath.load);
            report.add(Event { at, what: Happening::WeanStep(now) });
        } else if now != was {
            report.add(Event { at, what: Happening::SettingsChanged(now) });
        }
        report
    }

    /// The minutes of the present step.
    #[must_use]
    pub const fn trend(&self) -> &TrendState {
        &self.breath.trend
    }

    /// What is made of the present step: of load alone, and only as advice. Cannot be told while no
    /// input rings: what was told before does not stand for an infant whom nobody hears.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        if self.breath.alarms.is_on(Condition::NoInput) {
            return Verdict::CannotTell(NoVerdict::NoInput);
        }
        self.breath.load.verdict()
    }

    /// What another monitor shows of heart and saturation now, for the apnoea alarm and the load.
    pub fn signs(&mut self, signs: Signs) {
        self.settings.alarms.signs(&mut self.breath.alarms, signs);
        self.settings.load.signs(&mut self.breath.load, signs);
    }

    /// Counts of causes, missed efforts and double triggers, and trigger delays.
    #[must_use]
    pub const fn synchrony(&self) -> &Synchrony {
        &self.breath.synchrony
    }

    /// Whether the learned leak explains the flow, or the sensor's zero has drifted.
    #[must_use]
    pub const fn leak_fit(&self) -> LeakFit {
        self.sample.zero.fit()
    }

    /// The alarms that ring, and those that were acknowledged.
    #[must_use]
    pub const fn alarms(&self) -> &AlarmsState {
        &self.breath.alarms
    }

    /// Whoever is responsible has seen all that rings: a latching alarm stops with its condition. One
    /// whose condition is over stops when that is looked at next: an apnoea within a tenth of a second,
    /// a limit or a disconnection with the next breath that tells of it.
    pub fn acknowledge(&mut self) {
        self.breath.alarms.acknowledge();
    }

    /// What the time under the threshold that is set, and its worst stretch, say of it; `None` where no
    /// threshold is set.
    #[must_use]
    pub fn threshold_judgement(&self) -> Option<ThresholdJudgement> {
        let threshold = self.settings.machine().threshold?;
        let (grid, breath) = (&self.settings.grid, &self.breath);
        let evidence = ThresholdEvidence {
            threshold,
            tally: &breath.triggered,
            missed_at_least: breath.advice.of(grid, threshold.flow()).missed_at_least,
            advice: self.threshold_advice(),
            floor: breath.floor.floor(),
            is_zero_off: matches!(self.leak_fit(), LeakFit::Drift(_)),
            step: grid.step(),
            ripple: self.listeners.ripple(),
        };
        Some(evidence.judge())
    }

    /// Which threshold of the grid stands between floor and effort.
    #[must_use]
    pub fn threshold_advice(&self) -> Advice {
        self.breath.advice.advise(&self.settings.grid, self.breath.floor.floor())
    }

    /// What each threshold of the grid would mean.
    pub fn threshold_table(&self) -> impl Iterator<Item = Expected> + '_ {
        self.breath.advice.table(&self.settings.grid)
    }

    /// A moment of the samples' own time on the monitor's, which goes on where that is set back: the time
    /// of its alarms.
    #[must_use]
    pub fn time_of(&self, own: Moment) -> Moment {
        self.hearing.of(own)
    }

    /// For how long nothing usable has come from the sensor.
    #[must_use]
    pub fn blind(&self) -> Span {
        self.hearing.blind()
    }

    /// Whether the infant breathes, as far as the apnoea alarm can tell now. That it does not ring says
    /// nothing while nothing usable comes from the sensor.
    #[must_use]
    pub fn breathing(&self) -> Breathing {
        let alarms = &self.breath.alarms;
        if alarms.is_on(Condition::SensorFault) || alarms.is_on(Condition::NoInput) {
            Breathing::CannotTell
        } else if alarms.is_on(Condition::Apnoea) {
            Breathing::Apnoea
        } else if self.sample.circuit.is_open() {
            Breathing::CannotTell
        } else {
            Breathing::Breathes
        }
    }

    /// Tells all that it remembers, settings aside, in order.
    pub fn save_state(&self, to: &mut impl Sink) {
        self.clock.save(to);
        self.hearing.save(to);
        self.sample.save(to);
        self.listeners.save(to);
        self.breath.save(to);
        self.risen.save(to);
        self.refused.save(to);
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

    /// Takes samples up to and including the first that has something to say, and returns how many: the
    /// caller goes on with the rest, and nothing is lost. Where no sample had anything to say it took all,
    /// and the report is [silent](Report::is_silent). The same bits as one by one; a sample costs what it
    /// does there, so the block that holds a closing one costs as much more.
    ///
    /// ```
    /// use tidevane::monitor::{Monitor, Report, Settings};
    /// use tidevane::quantity::{Flow, Pressure, Tick};
    /// use tidevane::signal::Sample;
    ///
    /// let (mut monitor, mut report) = (Monitor::new(Settings::default()), Report::default());
    /// let from_dma: [Sample; 8] = core::array::from_fn(|n| Sample {
    ///     tick: Tick::from_us(n as u32 * 10_000),
    ///     flow: Flow::from_int(12),
    ///     pressure: Pressure::from_int(5),
    /// });
    /// let mut rest = &from_dma[..];
    /// while !rest.is_empty() {
    ///     let taken = monitor.push_block(rest, &mut report);
    ///     for event in &report.events {
    ///         println!("{event}");
    ///     }
    ///     rest = rest.get(taken..).unwrap_or_default();
    /// }
    /// ```
    pub fn push_block(&mut self, samples: &[Sample], report: &mut Report) -> usize {
        report.clear();
        let mut taken = 0_usize;
        for sample in samples {
            taken = taken.saturating_add(1);
            self.push_into(*sample, report);
            if !report.is_silent() {
                break;
            }
        }
        taken
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
        match self.settings.sample.hear(&mut self.sample, at, reading) {
            Passed::Start => self.start(at, reading),
            Passed::Step(interval) => self.step(&interval, report),
            Passed::Cut { since, flags } => {
                self.cut(flags, report);
                let what = if at > since {
                    Happening::Gap { since, cut: true }
                } else {
                    self.hearing.restart(at);
                    self.breath.forget_times();
                    Happening::ClockReset { since }
                };
                report.add(Event { at, what });
                self.start(at, reading);
                self.tell_time(report);
            }
            Passed::Refused(refusal) => {
                if self.refused != Some(refusal) {
                    report.add(Event { at, what: Happening::Refused(refusal) });
                }
                self.refused = Some(refusal);
                match refusal {
                    Refusal::FarAhead => self.hearing.far_ahead(at),
                    Refusal::FlowOutOfRange | Refusal::PressureOutOfRange | Refusal::NotLater => {
                        self.hearing.miss();
                    }
                }
                self.tell_time(report);
            }
        }
    }

    /// A sample is known to be lost or unreadable: the interval to the next good one is a gap. The
    /// alarms hear that as long as usual passed without input, 10 ms where nothing was heard yet.
    pub fn lost(&mut self) -> Report {
        let mut report = Report::default();
        self.lost_into(&mut report);
        report
    }

    /// As [`lost`](Self::lost), into a report that the caller keeps.
    pub fn lost_into(&mut self, report: &mut Report) {
        report.clear();
        self.settings.sample.lost(&mut self.sample);
        self.hearing.miss();
        self.tell_time(report);
    }

    /// Time passed without a sample, as a timer tells; from power-up on. So a sensor that says nothing
    /// rings, and so does an apnoea behind it. Call it ten times a second where samples may stay away.
    pub fn tick(&mut self, tick: Tick) -> Report {
        let at = self.clock.unwrap_tick(tick);
        self.tick_at(at)
    }

    /// As [`tick`](Self::tick), into a report that the caller keeps.
    pub fn tick_into(&mut self, tick: Tick, report: &mut Report) {
        let at = self.clock.unwrap_tick(tick);
        self.tick_at_into(at, report);
    }

    /// As [`tick`](Self::tick), at a moment that does not wrap: for recordings.
    pub fn tick_at(&mut self, at: Moment) -> Report {
        let mut report = Report::default();
        self.tick_at_into(at, &mut report);
        report
    }

    /// As [`tick_at`](Self::tick_at), into a report that the caller keeps.
    pub fn tick_at_into(&mut self, at: Moment, report: &mut Report) {
        report.clear();
        if self.hearing.tick(at) {
            self.settings.sample.tell(&mut self.sample, at);
        }
        self.tell_time(report);
    }

    /// Closes the breath under way, flagged as cut: at the end of a recording. A monitor that goes
    /// on afterwards begins afresh but keeps what it has learned.
    pub fn finish(&mut self) -> Report {
        let mut report = Report::default();
        self.cut(Flags::NONE, &mut report);
        self.breath.judge_load(&self.settings, &self.hearing, &mut report);
        self.settings.sample.forget_last(&mut self.sample);
        report
    }

    /// Rare, and outlined: its frame must not stand under every push.
    #[inline(never)]
    fn start(&mut self, at: Moment, reading: Reading) {
        self.hearing.begin(at);
        self.settings.sample.start(&mut self.sample, at, reading);
        self.listeners.start(&self.settings);
        self.risen = Flags::NONE;
        self.refused = None;
    }

    fn step(&mut self, interval: &Interval, report: &mut Report) {
        self.hearing.accept(interval);
        self.say_flags(interval, report);
        self.breath.judge_load(&self.settings, &self.hearing, report);
        self.refused = None;
        let was = self.sample.segment.phase();
        let mut closed = self.settings.sample.turn(&mut self.sample, interval);
        if was == Phase::Inspiration && self.sample.segment.phase() == Phase::Expiration {
            let at_work = self.breath.is_at_work(self.listeners.pull());
            self.listeners.end_inspiration(&self.sample, at_work);
        }
        self.listeners.add_to_fit(&self.sample, interval);
        let turn = (was, closed.is_some());
        self.listeners.limit(&self.settings, &self.sample, interval, turn, report);
        match &mut closed {
            Some(breath) => self.close(breath, report),
            None => self.tell_time(report),
        }
        self.watch(interval, report);
    }

    /// After what a turn closed: what comes now belongs to the next breath.
    fn watch(&mut self, interval: &Interval, report: &mut Report) {
        let (settings, sample) = (&self.settings, &self.sample);
        // Numbers that cannot be show no effort either.
        let is_sound = settings.sample.implausible(sample).is_none() && !sample.circuit.is_open();
        if is_sound && self.breath.is_inflated_lately(interval.at) {
            let effort = self.listeners.watch(settings, sample, interval);
            if let Some(effort) = effort {
                self.breath.say_missed(settings, effort, report);
            }
        }
    }

    /// Takes a breath that the sample stage has closed, and sets its last flags.
    pub(super) fn close(&mut self, breath: &mut Breath, report: &mut Report) {
        let (settings, sample) = (&self.settings, &mut self.sample);
        self.breath.close(settings, sample, &mut self.listeners, &self.hearing, breath, report);
        self.breath.sound(settings, &self.hearing, report);
    }

    /// Closes the breath under way as one that was cut. Outlined as [`start`](Self::start).
    #[inline(never)]
    fn cut(&mut self, why: Flags, report: &mut Report) {
        let mut closed = self.settings.sample.cut(&mut self.sample, why);
        if let Some(breath) = &mut closed {
            self.close(breath, report);
        }
    }

    /// One event for each gap, and for each other flag that was not up in the interval before.
    fn say_flags(&mut self, interval: &Interval, report: &mut Report) {
        let before = core::mem::replace(&mut self.risen, interval.flags);
        if interval.flags.is_empty() {
            return;
        }
        for flag in [Flags::GAP, Flags::STUCK, Flags::CLIPPED, Flags::OPEN] {
            if interval.flags.has(flag)
                && (flag == Flags::GAP || !before.has(flag))
                && let Some(what) = Happening::of_flag(flag, interval.start())
            {
                report.add(Event { at: interval.at, what });
            }
        }
    }

    /// Tells the alarms of the time and the sensor, ten times a second.
    #[inline(always)]
    fn tell_time(&mut self, report: &mut Report) {
        if self.hearing.is_due() {
            self.tell_alarms(report);
        }
    }

    /// Of the time with the call after where there was something to say of the sensor.
    #[inline(never)]
    fn tell_alarms(&mut self, report: &mut Report) {
        let Some(now) = self.hearing.look() else { return };
        let (alarms, state) = (&self.settings.alarms, &mut self.breath.alarms);
        alarms.circuit(state, now, self.sample.circuit.is_open());
        let events = alarms.sensor(state, now, self.hearing.blind());
        if events.is_empty() {
            // Time that is only guessed is time without input, and none of an apnoea: of that nothing
            // can be told then.
            say_alarms(&alarms.tick(state, self.hearing.heard()), &self.hearing, report);
        } else {
            say_alarms(&events, &self.hearing, report);
        }
    }
}
