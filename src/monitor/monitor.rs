//! Conducts the two stages and the blocks that listen between them, feed-forward only: what closed
//! breaths taught corrects the samples that follow.

use super::breath_stage::{BreathState, say_alarm};
use super::closing::Closing;
use super::hearing::Hearing;
use super::listeners::Listeners;
use super::sample_stage::SampleState;
use super::{Event, EventKind, Report, Settings};
use crate::alarm::VitalSigns;
#[cfg(test)]
use crate::breath::Breath;
use crate::breath::Phase;
use crate::quantity::{ConstDefault, Instant, Tick};
use crate::record;
use crate::signal::{Clock, Flags, GateOutcome, Interval, Reading, Refusal, Sample};
use crate::trigger::TriggerTally;

record! {
/// The whole check, one sample at a time.
///
/// It holds all it remembers by itself: no heap, no globals. A clone goes on exactly as the
/// original would. Made for 50 to 1 000 samples a second. No single sample bears all the work that a breath brings:
/// that is done over the eight samples after its end was found, and the alarms of the time wait for it as long.
#[derive(Debug, Clone, PartialEq)]
pub struct Monitor {
    pub(super) settings: Settings,
    pub(super) clock: Clock,
    pub(super) hearing: Hearing,
    pub(super) sample: SampleState,
    pub(super) listeners: Listeners,
    pub(super) breath: BreathState,
    /// The breath whose numbers are being worked out.
    pub(super) closing: Closing,
    /// Flags of the interval before, so that an event is said once.
    pub(super) risen: Flags,
    pub(super) refused: Option<Refusal>,
}
}

impl Monitor {
    /// A monitor that has heard nothing yet. Made while compiling it takes no stack, where one that is made
    /// by a running program is built there first, all of its 7 KB:
    ///
    /// ```
    /// use std::sync::Mutex;
    /// use tidevane::monitor::{Monitor, Settings};
    /// use tidevane::quantity::{Instant, Mass};
    ///
    /// static MONITOR: Mutex<Monitor> = Mutex::new(Monitor::new(Settings::DEFAULT));
    ///
    /// let infant = Settings::builder().weight(Mass::from_grams(980)?).build()?;
    /// let _ = MONITOR.lock().unwrap().settings_changed(Instant::from_us(0), infant);
    /// # Ok::<(), tidevane::quantity::SettingError>(())
    /// ```
    #[must_use]
    pub const fn new(settings: Settings) -> Self {
        Self {
            listeners: Listeners::new(&settings),
            settings,
            clock: Clock::new(),
            hearing: Hearing::DEFAULT,
            sample: SampleState::DEFAULT,
            breath: BreathState::DEFAULT,
            closing: Closing::none(),
            risen: Flags::NONE,
            refused: None,
        }
    }

    /// The settings were changed at a moment: what follows is judged by the new ones, what was
    /// learned is kept. Where rate, peak or support changed a step of weaning begins: its trend
    /// starts anew, and the minutes before are kept to hold it against. The report tells either.
    ///
    /// A breath whose numbers are still being worked out is judged by the settings before, and is in the report.
    /// A moment before the last sample, or more than a second after it, is taken for now.
    pub fn settings_changed(&mut self, at: Instant, settings: Settings) -> Report {
        let mut report = Report::default();
        self.complete(&mut report);
        let changed = self.hearing.near(at);
        let at = changed.map_or(at, |changed| self.hearing.own(changed));
        self.breath.judge_load(&self.settings, &self.hearing, &self.listeners, &mut report);
        let (was, now) = (*self.settings.machine(), *settings.machine());
        self.settings = settings;
        if changed.is_none() {
            self.listeners = Listeners::new(&self.settings);
        }
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
            report.add(Event { at, what: EventKind::WeanStep(now) });
        } else if now != was {
            report.add(Event { at, what: EventKind::SettingsChanged(now) });
        }
        report
    }

    /// What another monitor shows of heart and saturation now, for the apnoea alarm and the load.
    pub fn set_vital_signs(&mut self, signs: VitalSigns) {
        self.settings.alarms.set_vital_signs(&mut self.breath.alarms, signs);
        self.settings.load.set_vital_signs(&mut self.breath.load, signs);
    }

    /// Whoever is responsible has seen all that rings: a latching alarm stops with its condition. One
    /// whose condition is over stops when that is looked at next: an apnoea within a tenth of a second,
    /// a limit or a disconnection with the next breath that tells of it.
    pub fn acknowledge(&mut self) {
        self.breath.alarms.acknowledge();
    }

    /// The tick counter began anew, as in a reset that a [snapshot](super::snapshot) survived: `tick` is taken for the
    /// latest moment that was heard. How long it was off cannot be known and counts for nothing, neither for an
    /// apnoea nor for a rate; the breath under way has a gap and is flagged. To be called before the first push,
    /// with an earlier reading of the counter than that sample's: one at the same tick is refused.
    ///
    /// ```
    /// use tidevane::monitor::{Monitor, Settings};
    /// use tidevane::quantity::Tick;
    ///
    /// # let kept = Monitor::new(Settings::default());
    /// let mut monitor = kept; // read from a snapshot after the reset
    /// monitor.resume(Tick::from_us(0));
    /// ```
    pub fn resume(&mut self, tick: Tick) {
        self.clock = Clock::new();
        if let Some(now) = self.hearing.now() {
            self.clock.reset_to(tick, self.hearing.own(now));
        }
        self.settings.sample.lost(&mut self.sample);
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
        if report.events.iter().any(|e| matches!(e.what, EventKind::ClockReset { .. })) {
            self.clock.reset_to(sample.tick, at);
        }
    }

    /// Takes samples up to and including the first that has something to say, and returns how many: the
    /// caller goes on with the rest, and nothing is lost. Where no sample had anything to say it took all,
    /// and the report is [silent](Report::is_silent). The same bits as one by one; a sample costs what it
    /// does there, so a block of eight in which a breath ends costs some 30,000 instructions more on a Cortex-M4.
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
    #[must_use = "samples from here on were not taken"]
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
    pub fn push_at(&mut self, at: Instant, reading: Reading) -> Report {
        let mut report = Report::default();
        self.push_at_into(at, reading, &mut report);
        report
    }

    /// As [`push_at`](Self::push_at), into a report that the caller keeps.
    pub fn push_at_into(&mut self, at: Instant, reading: Reading, report: &mut Report) {
        report.clear();
        let passed = self.settings.sample.hear(&mut self.sample, at, reading);
        match &passed {
            GateOutcome::Step(interval) => self.step(interval, report),
            GateOutcome::Start => self.start(at, reading),
            GateOutcome::Cut { since, flags } => {
                self.complete(report);
                self.cut_at(at, *since, *flags, report);
                self.start(at, reading);
                self.tell_time(report);
            }
            GateOutcome::Refused(refusal) => {
                self.refuse(at, *refusal, report);
                self.go_on(report);
            }
        }
    }

    /// Counting starts afresh. Rare, and outlined: its frame must not stand under every push.
    #[inline(never)]
    fn cut_at(&mut self, at: Instant, since: Instant, flags: Flags, report: &mut Report) {
        self.cut(flags);
        let what = if at > since {
            EventKind::Gap { since, cut: true }
        } else {
            self.hearing.restart(at);
            self.breath.forget_times();
            EventKind::ClockReset { since }
        };
        report.add(Event { at, what });
    }

    /// A reading was not taken. Outlined as [`cut_at`](Self::cut_at).
    #[inline(never)]
    fn refuse(&mut self, at: Instant, refusal: Refusal, report: &mut Report) {
        if self.refused != Some(refusal) {
            report.add(Event { at, what: EventKind::Refused(refusal) });
        }
        self.refused = Some(refusal);
        match refusal {
            Refusal::FarAhead => self.hearing.far_ahead(at),
            Refusal::FlowOutOfRange | Refusal::PressureOutOfRange | Refusal::NotLater => {
                self.hearing.miss();
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
        self.go_on(report);
    }

    /// Time passed without a sample, as a timer tells; from power-up on. So a sensor that says nothing
    /// rings, and so does an apnoea behind it. Call it ten times a second where samples may stay away. Where
    /// nothing usable came for 0.1 s it works out at once what is left of a breath, and tells that.
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
    pub fn tick_at(&mut self, at: Instant) -> Report {
        let mut report = Report::default();
        self.tick_at_into(at, &mut report);
        report
    }

    /// As [`tick_at`](Self::tick_at), into a report that the caller keeps.
    pub fn tick_at_into(&mut self, at: Instant, report: &mut Report) {
        report.clear();
        if self.hearing.tick(at) {
            self.settings.sample.tell(&mut self.sample, at);
        }
        if self.hearing.is_silent() {
            // No sample comes that could go on with a breath.
            self.complete(report);
        }
        if !self.closing.is_open() {
            self.tell_time(report);
        }
    }

    /// Closes the breath under way, flagged as cut: at the end of a recording. A monitor that goes
    /// on afterwards begins afresh but keeps what it has learned.
    ///
    /// Where the numbers of the breath before are still being worked out it tells those alone, and closes the
    /// breath under way with the next call: call it until the report is [silent](Report::is_silent), or a
    /// breath is left untold.
    ///
    /// ```
    /// # use tidevane::monitor::{Monitor, Settings};
    /// # let mut monitor = Monitor::new(Settings::default());
    /// loop {
    ///     let report = monitor.finish();
    ///     if report.is_silent() {
    ///         break;
    ///     }
    /// }
    /// ```
    pub fn finish(&mut self) -> Report {
        let mut report = Report::default();
        if !self.closing.is_open() {
            self.cut(Flags::NONE);
            self.settings.sample.forget_last(&mut self.sample);
        }
        self.complete(&mut report);
        self.breath.judge_load(&self.settings, &self.hearing, &self.listeners, &mut report);
        report
    }

    /// Rare, and outlined: its frame must not stand under every push.
    #[inline(never)]
    fn start(&mut self, at: Instant, reading: Reading) {
        self.hearing.begin(at);
        self.settings.sample.start(&mut self.sample, at, reading);
        self.listeners.start(&self.settings);
        self.risen = Flags::NONE;
        self.refused = None;
    }

    fn step(&mut self, interval: &Interval, report: &mut Report) {
        self.hearing.accept(interval);
        self.say_flags(interval, report);
        self.refused = None;
        let was = self.sample.segment.phase();
        let ended = self.settings.sample.turn(&mut self.sample, interval);
        let closed = ended.is_some_and(|ended| {
            self.complete(report);
            self.breath.judge_load(&self.settings, &self.hearing, &self.listeners, report);
            let told = &mut self.closing.told;
            self.settings.sample.close(&mut self.sample, interval, ended, &mut told.breath)
        });
        if was == Phase::Inspiration && self.sample.segment.phase() == Phase::Expiration {
            let at_work = self.breath.is_at_work(self.listeners.pull());
            self.listeners.end_inspiration(&self.sample, at_work);
        }
        self.listeners.add_to_fit(&self.sample, interval);
        self.listeners.limit(&self.settings, &self.sample, interval, (was, closed), report);
        if closed {
            self.close(interval.at);
        } else {
            self.go_on(report);
        }
        self.watch(interval, report);
    }

    /// After what a turn closed: what comes now belongs to the next breath. Outlined: its frame must not stand
    /// under the slices of a breath.
    #[inline(never)]
    fn watch(&mut self, interval: &Interval, report: &mut Report) {
        let (settings, sample) = (&self.settings, &self.sample);
        // Numbers that cannot be show no effort either.
        let is_sound = settings.sample.implausible(sample).is_none() && !sample.circuit.is_open();
        let is_inflated =
            self.closing.is_inflation() || self.breath.is_inflated_lately(interval.at);
        if is_sound && is_inflated {
            let effort = self.listeners.watch(settings, sample, interval);
            if let Some(effort) = effort {
                self.breath.say_missed(settings, effort, report);
            }
        }
    }

    /// Takes the breath that the sample stage has closed with a reading.
    fn close(&mut self, found: Instant) {
        let Self { settings, hearing, listeners, breath, .. } = self;
        self.closing.begin(found, settings, hearing, listeners, breath.take_work());
    }

    /// Closes the breath under way as one that was cut. Outlined as [`start`](Self::start).
    #[inline(never)]
    fn cut(&mut self, why: Flags) {
        let breath = &mut self.closing.told.breath;
        if self.settings.sample.cut(&mut self.sample, why, breath) {
            self.close(self.closing.told.breath.end);
        }
    }

    /// Takes a breath as if the sample stage had closed it, and works it out.
    #[cfg(test)]
    pub(super) fn take(&mut self, breath: Breath) {
        self.closing.told.breath = breath;
        self.close(breath.end);
        self.complete(&mut Report::default());
    }

    /// Goes on with the breath whose numbers are being worked out; else with load and time. So no sample bears
    /// more than one of breath and load, and the alarms of the time wait for those of a breath that may end them:
    /// until its last slice, and a sample more where that tells something.
    fn go_on(&mut self, report: &mut Report) {
        if self.closing.is_open() {
            let told = report.events.len();
            self.slice(report);
            if !self.closing.is_open() && report.events.len() == told {
                self.tell_time(report);
            }
        } else {
            self.breath.judge_load(&self.settings, &self.hearing, &self.listeners, report);
            self.tell_time(report);
        }
    }

    /// Works out what is left of the breath under way: another one is waiting, or no sample comes.
    fn complete(&mut self, report: &mut Report) {
        if !self.closing.is_open() {
            return;
        }
        for _ in 0..Closing::SLICES {
            if self.closing.is_open() {
                self.slice(report);
            }
        }
        self.tell_time(report);
    }

    /// Works out a slice of those that are left.
    #[inline(never)]
    fn slice(&mut self, report: &mut Report) {
        let Self { settings, sample, listeners, breath, closing, hearing, .. } = self;
        let told = report.events.len();
        breath.step(settings, sample, listeners, closing, report);
        if closing.shift != hearing.shift() {
            // Of a time before the recording's clock was set back, which it cannot tell any more.
            breath.forget_times();
            for event in report.events.iter_mut().skip(told) {
                event.at = hearing.own(hearing.heard());
            }
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
                && let Some(what) = EventKind::of_flag(flag, interval.start())
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
        let shift = self.hearing.shift();
        alarms.circuit(state, now, self.sample.circuit.is_open());
        let before = report.events.len();
        let say = &mut |alarm| say_alarm(alarm, shift, report);
        alarms.say_sensor(state, now, self.hearing.blind(), say);
        if report.events.len() == before {
            // Time that is only guessed is time without input, and none of an apnoea: of that nothing
            // can be told then.
            let say = &mut |alarm| say_alarm(alarm, shift, report);
            alarms.say_tick(state, self.hearing.heard(), say);
        }
    }
}
