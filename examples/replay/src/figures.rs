//! The figures that the report quotes.

use crate::blind::Blind;
use crate::breath_log::BreathLog;
use crate::config::Setup;
use crate::doubt::Doubt;
use crate::rings::Rings;
use crate::row::Row;
use crate::steps::Steps;
use crate::target::Target;
use crate::timeline::Timeline;
use crate::trial::Trial;
use crate::wall_clock::WallClock;
use anyhow::Result;
use std::collections::BTreeMap;
use tidevane::alarm::{Burden, VitalSigns, VolumeHistory};
use tidevane::bedside::anatomical_dead_space;
use tidevane::breath::{Implausible, Kind, Phase};
use tidevane::leak::{Leak, LeakConsistency, VolumeCredibility};
use tidevane::mechanics::Jump;
use tidevane::monitor::{BreathReport, Event, EventKind, Journal, Monitor, Report, Settings};
use tidevane::quantity::{Duration, Flow};
use tidevane::signal::Flags;
use tidevane::trend::Tally;
use tidevane::trigger::{
    Cause, Initiation, Synchrony, ThresholdAdvice, ThresholdJudgement, ThresholdOutlook,
    TriggerCheck,
};

/// What the last minutes look back on, in seconds.
pub(crate) const LATE: f64 = 180.0;

/// How many entries of the journal are kept.
const JOURNAL: usize = 4_096;

/// What a whole recording came to.
pub(crate) struct Summary {
    pub(crate) source: String,
    pub(crate) samples: u64,
    pub(crate) bad_lines: u64,
    pub(crate) repeated: u64,
    pub(crate) rows: BreathLog,
    /// The settings at the end.
    pub(crate) settings: Settings,
    pub(crate) signs: VitalSigns,
    pub(crate) steps: Steps,
    pub(crate) trial: Option<Trial>,
    pub(crate) journal: Box<Journal<JOURNAL>>,
    /// The last three whole minutes with a set rate, and what was set then.
    pub(crate) latest: Option<Tally>,
    pub(crate) trigger: Option<TriggerCheck>,
    pub(crate) leak: Option<Leak>,
    /// The first inflation that the machine started by itself, with its evidence.
    pub(crate) self_cycled: Option<(f64, Initiation)>,
    pub(crate) synchrony: Synchrony,
    /// The largest flow of a trusted breath that the infant began: no effort was larger.
    pub(crate) largest_effort: Option<Flow>,
    pub(crate) advice: Option<ThresholdAdvice>,
    /// What was made of each threshold that was set, and until when, in seconds.
    pub(crate) judged: Vec<(f64, ThresholdJudgement, Flow)>,
    /// What was proposed for a target volume.
    pub(crate) target: Target,
    pub(crate) expected: Vec<ThresholdOutlook>,
    pub(crate) leak_fit: LeakConsistency,
    /// Volumes by step, of breaths whose leak left them believable.
    pub(crate) volumes: Vec<VolumeHistory>,
    /// Which alarms would have rung, and how much all of them.
    pub(crate) rings: Rings,
    pub(crate) burden: Burden,
    pub(crate) limits_reached: u64,
    pub(crate) limits_unknown: u64,
    pub(crate) gaps: u64,
    pub(crate) stuck: u64,
    pub(crate) clipped: u64,
    pub(crate) opened: u64,
    /// When compliance or resistance jumped, in seconds, and from what to what.
    pub(crate) jumps: Vec<(f64, Jump)>,
    /// When efforts were missed, in seconds, and whether that was in expiration.
    pub(crate) missed: Vec<(f64, bool)>,
    /// When inflations were the second on one effort, in seconds.
    pub(crate) doubled: Vec<f64>,
    /// Heart rate and saturation as they changed, with their time in seconds.
    pub(crate) signs_at: Vec<(f64, VitalSigns)>,
    pub(crate) refused: u64,
    /// Why numbers cannot be, of how many breaths, and when first, in seconds.
    pub(crate) implausible: BTreeMap<Implausible, (usize, f64)>,
    /// For how many seconds nothing usable had come at the end.
    pub(crate) blind_s: f64,
    /// For how long in all.
    pub(crate) blind: Blind,
    /// Whether any limit is rehearsed beside what always is.
    pub(crate) has_limits: bool,
    /// What the recording's clock showed.
    pub(crate) wall: WallClock,
    /// Length of the recording, and whether silences are left out of it.
    pub(crate) seconds: f64,
    pub(crate) is_shortened: bool,
    /// Changes that lie after the end.
    pub(crate) unmade: usize,
    /// What of the recording as a whole cannot be.
    pub(crate) doubts: Vec<Doubt>,
}

pub(crate) fn float(bits: i32) -> f64 {
    f64::from(bits) / 65_536.0
}

/// Whether the infant began a breath.
pub(crate) fn is_begun_by_infant(row: &Row) -> bool {
    row.kind == Kind::Own || row.cause == Some(Cause::Effort)
}

impl Summary {
    pub(crate) fn new(source: String, setup: &Setup) -> Self {
        Self {
            source,
            samples: 0,
            bad_lines: 0,
            repeated: 0,
            rows: BreathLog::default(),
            settings: setup.settings,
            signs: VitalSigns::default(),
            steps: Steps::new(*setup.settings.machine()),
            trial: None,
            journal: Box::default(),
            latest: None,
            trigger: None,
            leak: None,
            self_cycled: None,
            synchrony: Synchrony::default(),
            largest_effort: None,
            advice: None,
            judged: Vec::new(),
            target: Target::default(),
            expected: Vec::new(),
            leak_fit: LeakConsistency::Unknown,
            volumes: vec![VolumeHistory::default()],
            rings: Rings::default(),
            burden: Burden::default(),
            limits_reached: 0,
            limits_unknown: 0,
            gaps: 0,
            stuck: 0,
            clipped: 0,
            opened: 0,
            jumps: Vec::new(),
            missed: Vec::new(),
            doubled: Vec::new(),
            signs_at: Vec::new(),
            refused: 0,
            implausible: BTreeMap::new(),
            blind_s: 0.0,
            blind: Blind::default(),
            has_limits: setup.has_limits,
            wall: WallClock::new(setup.zone.clone()),
            seconds: 0.0,
            is_shortened: false,
            unmade: 0,
            doubts: Vec::new(),
        }
    }

    /// What alerts rest on alone: of breaths only the latest are kept.
    pub(crate) fn of_alerts(source: String, setup: &Setup) -> Self {
        Self { rows: BreathLog::of_late(), ..Self::new(source, setup) }
    }

    /// Takes a report.
    pub(crate) fn take(&mut self, report: &Report, timeline: &Timeline) -> Result<()> {
        self.journal.take(report);
        report.events.iter().for_each(|event| self.event(event, timeline));
        if let Some(breath) = &report.breath {
            self.breath(breath, timeline.seconds_at(breath.breath.onset))?;
        }
        Ok(())
    }

    fn event(&mut self, event: &Event, timeline: &Timeline) {
        let at_s = timeline.seconds();
        match event.what {
            EventKind::Gap { .. } | EventKind::ClockReset { .. } => self.gaps += 1,
            EventKind::Stuck => self.stuck += 1,
            EventKind::Clipped => self.clipped += 1,
            EventKind::OpenCircuit => self.opened += 1,
            EventKind::LungChanged(jump) => self.jumps.push((at_s, jump)),
            EventKind::MissedEffort(effort) => {
                let in_expiration = effort.during != Phase::Inspiration;
                self.missed.push((timeline.seconds_at(event.at), in_expiration));
            }
            EventKind::DoubleTrigger => self.doubled.push(timeline.seconds_at(event.at)),
            EventKind::Refused(_) => self.refused += 1,
            EventKind::LimitReached(_) => self.limits_reached += 1,
            EventKind::LimitUnknown => self.limits_unknown += 1,
            EventKind::Load(verdict) => self.steps.verdict(at_s, verdict),
            EventKind::WeanStep(_) => self.volumes.push(VolumeHistory::default()),
            EventKind::Alarm(alarm) => {
                self.burden.learn(&alarm);
                self.rings.learn(&alarm, at_s);
            }
            _ => {}
        }
    }

    /// Takes a breath as alerts see it.
    pub(crate) fn row(&mut self, report: &BreathReport, onset_s: f64) -> Result<Row> {
        if let Some(why) = report.implausible {
            self.implausible.entry(why).or_insert((0, onset_s)).0 += 1;
            // It is told of breaths before this one too: none of them counts.
            let told = why.breaths().saturating_sub(1) as usize;
            self.rows.distrust(told);
        }
        let row = Row::of(report, onset_s);
        self.rows.push(row)?;
        Ok(row)
    }

    /// Something is about to be changed on the machine.
    pub(crate) fn change(&mut self, seconds: f64, to: &Settings, monitor: &Monitor) {
        if to.machine().is_step_from(monitor.settings().machine()) {
            self.steps.close(seconds, monitor);
            self.steps.begin(seconds, *to.machine());
        }
        self.settings = *to;
    }

    fn breath(&mut self, report: &BreathReport, onset_s: f64) -> Result<()> {
        let believable = |share| VolumeCredibility::at(share) == VolumeCredibility::Usable;
        if report.leak_window.share().is_none_or(believable)
            && let Some(volumes) = self.volumes.last_mut()
        {
            volumes.learn(&report.view());
        }
        let row = self.row(report, onset_s)?;
        if row.trusted && is_begun_by_infant(&row) {
            self.largest_effort = self.largest_effort.max(Some(report.breath.peak_insp_flow));
        }
        if let Some(trial) = &mut self.trial {
            trial.breath(report);
        }
        if let Some(initiation) = report.initiation.filter(|i| i.cause.is_self_cycled()) {
            self.self_cycled.get_or_insert((onset_s, initiation));
        }
        if let Some(proposed) = report.proposal {
            self.target.take(proposed, onset_s);
        }
        self.trigger = report.trigger.or(self.trigger);
        self.leak = Some(report.leak_window);
        Ok(())
    }

    /// The threshold that is set is about to change, or the recording ends: what is made of it.
    pub(crate) fn judge(&mut self, monitor: &Monitor) {
        let set = monitor.settings().machine().threshold;
        if let (Some(judged), Some(set)) = (monitor.threshold_judgement(), set) {
            self.judged.push((self.seconds, judged, set.flow()));
        }
    }

    /// What the monitor knows at the end.
    pub(crate) fn finish(&mut self, monitor: &Monitor) {
        self.steps.close(self.seconds, monitor);
        let latest = monitor.trend().recent().or(self.steps.all.last().and_then(|s| s.last));
        // What trusted breaths were like before the numbers went wrong is not what they are like now.
        let late = || self.rows.since(self.seconds - LATE);
        let implausible = late().filter(|row| row.flags.has(Flags::IMPLAUSIBLE)).count();
        self.latest = latest.filter(|_| 2 * implausible <= late().count());
        self.synchrony = *monitor.synchrony();
        self.advice = Some(monitor.threshold_advice());
        self.judge(monitor);
        self.expected = monitor.threshold_table().collect();
        self.leak_fit = monitor.leak_fit();
    }

    /// What was not heard, in all and at the end.
    pub(crate) fn hear_no_more(&mut self, blind: Blind, monitor: &Monitor) {
        self.blind_s = monitor.blind().to_us() as f64 / 1e6;
        self.blind = blind;
    }

    /// A time of the recording as it is told.
    pub(crate) fn clock(&self, seconds: f64) -> String {
        self.wall.told(seconds)
    }

    /// The largest effort in L/min, where the threshold that is set lies above every one that was seen.
    pub(crate) fn below_threshold(&self) -> Option<f64> {
        let set = self.settings.machine().threshold?.flow();
        let largest = self.largest_effort.filter(|largest| *largest < set)?;
        Some(largest.to_l_per_min().to_num())
    }

    /// The weight in kilograms, where it is known.
    pub(crate) fn kg(&self) -> Option<f64> {
        self.settings.weight().map(|weight| f64::from(weight.grams()) / 1_000.0)
    }

    /// Whether an own breath moved less than a quarter of the dead space: a heart may have made it, and it ends no pause,
    /// as it ends no apnoea for the alarm.
    pub(crate) fn is_hardly_one(&self, row: &Row) -> bool {
        let moved = row.inspired_ml.max(row.expired_ml);
        row.kind == Kind::Own
            && row.trusted
            && self.dead_space_ml().is_some_and(|space| moved < space / 4.0)
    }

    /// The whole anatomical dead space at birth in mL, where the weight is known.
    pub(crate) fn dead_space_ml(&self) -> Option<f64> {
        let weight = self.settings.weight()?;
        Some(anatomical_dead_space(weight, Duration::ZERO).value.get().to_num())
    }

    /// When the last breath began that told compliance and resistance.
    pub(crate) fn last_passive_s(&self) -> Option<f64> {
        self.trusted().filter(|row| row.mechanics.is_some()).map(|row| row.onset_s).next_back()
    }

    /// The trusted breaths.
    pub(crate) fn trusted(&self) -> impl DoubleEndedIterator<Item = Row> + Clone {
        self.rows.iter().filter(|row| row.trusted)
    }

    /// The trusted breaths that began at a time or later.
    pub(crate) fn trusted_since(
        &self,
        from_s: f64,
    ) -> impl DoubleEndedIterator<Item = Row> + Clone {
        self.rows.since(from_s).filter(|row| row.trusted)
    }

    /// The trusted breaths that began at a time or later, and before another.
    pub(crate) fn trusted_between(
        &self,
        from_s: f64,
        to_s: f64,
    ) -> impl Iterator<Item = Row> + Clone {
        self.rows.between(from_s, to_s).filter(|row| row.trusted)
    }

    /// The trusted breaths of one kind.
    pub(crate) fn of_kind(&self, kind: Kind) -> impl Iterator<Item = Row> + Clone {
        self.trusted().filter(move |row| row.kind == kind)
    }
}
