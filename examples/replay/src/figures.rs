//! The figures that the report quotes.

use crate::config::Setup;
use crate::steps::Steps;
use crate::target::Target;
use crate::text::decimals;
use crate::trial::Trial;
use std::collections::BTreeMap;
use tidevane::alarm::{BreathKind, Burden, Change, Signs, VolumeHistory};
use tidevane::breath::{Implausible, Kind};
use tidevane::leak::{Belief, Leak, LeakFit, LungVolume};
use tidevane::mechanics::{Bend, Emptying, FitOutcome, Jump};
use tidevane::monitor::{BreathReport, Event, Happening, Journal, Monitor, Report, Settings};
use tidevane::quantity::{Flow, Moment};
use tidevane::signal::Flags;
use tidevane::trigger::{
    Advice, Cause, Expected, Initiation, Synchrony, ThresholdJudgement, TriggerCheck, Verdict,
};
use tidevane::wean::Tally;

/// One breath, as far as the report needs it.
pub(crate) struct Row {
    pub(crate) onset_s: f64,
    pub(crate) kind: Kind,
    pub(crate) whose: BreathKind,
    pub(crate) trusted: bool,
    pub(crate) flags: Flags,
    pub(crate) self_cycled: bool,
    pub(crate) inspired_ml: f64,
    pub(crate) expired_ml: f64,
    pub(crate) peak: f64,
    pub(crate) baseline: f64,
    pub(crate) peak_flow: f64,
    /// Rate and minute volume of the last eight.
    pub(crate) rate: Option<f64>,
    pub(crate) minute_ml: Option<f64>,
    pub(crate) leak_window: Option<f64>,
    pub(crate) lung_ml: Option<f64>,
    /// Compliance, resistance and time constant (s) of a passive breath.
    pub(crate) mechanics: Option<[f64; 3]>,
    /// The share of the elastance at the end of a passive breath that came with volume.
    pub(crate) bend: Option<f64>,
    /// Whether a breath's expiration was too short to empty the lung.
    pub(crate) short: Option<bool>,
    pub(crate) verdict: Option<Verdict>,
}

/// What the last minutes look back on, in seconds.
const LATE: f64 = 180.0;

/// How many entries of the journal are kept.
const JOURNAL: usize = 4_096;

/// What a whole recording came to.
pub(crate) struct Summary {
    pub(crate) source: String,
    pub(crate) samples: u64,
    pub(crate) bad_lines: u64,
    pub(crate) rows: Vec<Row>,
    /// The settings at the end.
    pub(crate) settings: Settings,
    pub(crate) signs: Signs,
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
    pub(crate) advice: Option<Advice>,
    /// What was made of each threshold that was set, and until when, in seconds.
    pub(crate) judged: Vec<(f64, ThresholdJudgement, Flow)>,
    /// What was proposed for a target volume.
    pub(crate) target: Target,
    pub(crate) expected: Vec<Expected>,
    pub(crate) leak_fit: LeakFit,
    /// Volumes by step, of breaths whose leak left them believable.
    pub(crate) volumes: Vec<VolumeHistory>,
    /// When alarms began, in seconds, and which.
    pub(crate) rang: Vec<(f64, String)>,
    /// How often each alarm began, and how much all of them rang.
    pub(crate) alarms: BTreeMap<String, u64>,
    pub(crate) burden: Burden,
    pub(crate) limits_reached: u64,
    pub(crate) limits_unknown: u64,
    pub(crate) gaps: u64,
    pub(crate) stuck: u64,
    pub(crate) clipped: u64,
    pub(crate) opened: u64,
    /// When compliance or resistance jumped, in seconds, and from what to what.
    pub(crate) jumps: Vec<(f64, Jump)>,
    pub(crate) refused: u64,
    /// Why numbers cannot be, of how many breaths, and when first, in seconds.
    pub(crate) implausible: BTreeMap<Implausible, (usize, f64)>,
    /// For how many seconds nothing usable had come at the end.
    pub(crate) blind_s: f64,
    /// Whether any limit is rehearsed beside what always is.
    pub(crate) has_limits: bool,
    /// Length of the recording.
    pub(crate) seconds: f64,
}

pub(crate) fn float(bits: i32) -> f64 {
    f64::from(bits) / 65_536.0
}

fn seconds(at: Moment) -> f64 {
    at.to_us() as f64 / 1e6
}

impl Summary {
    pub(crate) fn new(source: String, setup: &Setup) -> Self {
        Self {
            source,
            samples: 0,
            bad_lines: 0,
            rows: Vec::new(),
            settings: setup.settings,
            signs: Signs::default(),
            steps: Steps::new(*setup.settings.machine()),
            trial: None,
            journal: Box::default(),
            latest: None,
            trigger: None,
            leak: None,
            self_cycled: None,
            synchrony: Synchrony::default(),
            advice: None,
            judged: Vec::new(),
            target: Target::default(),
            expected: Vec::new(),
            leak_fit: LeakFit::Unknown,
            volumes: vec![VolumeHistory::default()],
            rang: Vec::new(),
            alarms: BTreeMap::new(),
            burden: Burden::default(),
            limits_reached: 0,
            limits_unknown: 0,
            gaps: 0,
            stuck: 0,
            clipped: 0,
            opened: 0,
            jumps: Vec::new(),
            refused: 0,
            implausible: BTreeMap::new(),
            blind_s: 0.0,
            has_limits: setup.has_limits,
            seconds: 0.0,
        }
    }

    /// Takes a report at a time in seconds.
    pub(crate) fn take(&mut self, report: &Report, at_s: f64) {
        self.journal.take(report);
        report.events.iter().for_each(|event| self.event(event, at_s));
        if let Some(breath) = &report.breath {
            self.breath(breath);
        }
    }

    fn event(&mut self, event: &Event, at_s: f64) {
        match event.what {
            Happening::Gap { .. } | Happening::ClockReset { .. } => self.gaps += 1,
            Happening::Stuck => self.stuck += 1,
            Happening::Clipped => self.clipped += 1,
            Happening::OpenCircuit => self.opened += 1,
            Happening::LungChanged(jump) => self.jumps.push((at_s, jump)),
            Happening::Refused(_) => self.refused += 1,
            Happening::LimitReached(_) => self.limits_reached += 1,
            Happening::LimitUnknown => self.limits_unknown += 1,
            Happening::Load(verdict) => self.steps.verdict(at_s, verdict),
            Happening::WeanStep(_) => self.volumes.push(VolumeHistory::default()),
            Happening::Alarm(alarm) => {
                self.burden.learn(&alarm);
                if alarm.change == Change::On {
                    *self.alarms.entry(alarm.condition.to_string()).or_default() += 1;
                    self.rang.push((at_s, alarm.condition.to_string()));
                }
            }
            _ => {}
        }
    }

    fn breath(&mut self, report: &BreathReport) {
        let breath = &report.breath;
        let believable = |share| Belief::at(share) == Belief::Usable;
        if report.leak_window.share().is_none_or(believable)
            && let Some(volumes) = self.volumes.last_mut()
        {
            volumes.learn(&report.view());
        }
        if let Some(why) = report.implausible {
            self.implausible.entry(why).or_insert((0, seconds(breath.onset))).0 += 1;
            // It is told of breaths before this one too: none of them counts.
            let told = why.breaths().saturating_sub(1) as usize;
            self.rows.iter_mut().rev().take(told).for_each(|row| row.trusted = false);
        }
        self.rows.push(Self::row(report));
        if let Some(trial) = &mut self.trial {
            trial.breath(report);
        }
        if let Some(initiation) = report.initiation.filter(|i| i.cause.is_self_cycled()) {
            self.self_cycled.get_or_insert((seconds(breath.onset), initiation));
        }
        if let Some(proposed) = report.proposal {
            self.target.take(proposed, seconds(breath.onset));
        }
        self.trigger = report.trigger.or(self.trigger);
        self.leak = Some(report.leak_window);
    }

    fn row(report: &BreathReport) -> Row {
        let breath = &report.breath;
        Row {
            onset_s: seconds(breath.onset),
            kind: breath.kind,
            whose: report.kind,
            trusted: breath.is_trusted(),
            flags: breath.flags,
            self_cycled: report.initiation.is_some_and(|i| Cause::is_self_cycled(i.cause)),
            inspired_ml: float(breath.inspired.value.to_bits()),
            expired_ml: float(breath.expired.value.to_bits()),
            peak: float(breath.peak.to_bits()),
            baseline: float(breath.baseline.to_bits()),
            peak_flow: float(breath.peak_insp_flow.to_bits()),
            rate: report.rate.map(|rate| float(rate.to_bits())),
            minute_ml: report.minute_volume.map(|volume| float(volume.to_bits())),
            leak_window: report.leak_window.share().map(|s| float(s.to_bits())),
            lung_ml: match report.lung {
                LungVolume::Known { volume, .. } => Some(float(volume.to_bits())),
                LungVolume::Unknown(_) => None,
            },
            mechanics: match report.mechanics {
                FitOutcome::Known { compliance, resistance, time_constant, .. } => Some([
                    float(compliance.to_bits()),
                    float(resistance.to_bits()),
                    time_constant.to_us() as f64 / 1e6,
                ]),
                FitOutcome::Unknown(_) => None,
            },
            bend: match report.bend {
                Bend::Known { share, .. } => Some(float(share.to_bits())),
                Bend::Unknown(_) => None,
            },
            short: report.emptying.map(|e| matches!(e, Emptying::Short { .. })),
            verdict: report.trigger.map(|t| t.verdict),
        }
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
        let late = || self.rows.iter().filter(|row| row.onset_s >= self.seconds - LATE);
        let implausible = late().filter(|row| row.flags.has(Flags::IMPLAUSIBLE)).count();
        self.latest = latest.filter(|_| 2 * implausible <= late().count());
        self.synchrony = *monitor.synchrony();
        self.advice = Some(monitor.threshold_advice());
        self.judge(monitor);
        self.expected = monitor.threshold_table().collect();
        self.leak_fit = monitor.leak_fit();
        self.blind_s = monitor.blind().to_us() as f64 / 1e6;
    }

    /// The trusted breaths.
    pub(crate) fn trusted(&self) -> impl DoubleEndedIterator<Item = &Row> + Clone {
        self.rows.iter().filter(|row| row.trusted)
    }

    /// The trusted breaths of one kind.
    pub(crate) fn of_kind(&self, kind: Kind) -> impl Iterator<Item = &Row> + Clone {
        self.trusted().filter(move |row| row.kind == kind)
    }
}

/// The value under which a share of all lies (nearest rank); `None` for nothing.
pub(crate) fn quantile(values: impl Iterator<Item = f64>, share: f64) -> Option<f64> {
    let mut sorted: Vec<_> = values.collect();
    sorted.sort_by(f64::total_cmp);
    let rank = (share * sorted.len() as f64).ceil().max(1.0) as usize - 1;
    sorted.get(rank).copied()
}

/// Median with the middle half beside it, as `5.1 (4.8 to 5.4)`.
pub(crate) fn spread(values: impl Iterator<Item = f64> + Clone, places: usize) -> Option<String> {
    let at = |share| Some(decimals(quantile(values.clone(), share)?, places));
    Some(format!("{} ({} to {})", at(0.5)?, at(0.25)?, at(0.75)?))
}

/// The stretches in which something held, from the first to the last breath of each; gaps shorter
/// than `bridge` seconds are bridged.
pub(crate) fn stretches<'a>(
    rows: impl Iterator<Item = &'a Row>,
    held: impl Fn(&Row) -> bool,
    bridge: f64,
) -> Vec<(f64, f64, usize)> {
    let mut out: Vec<(f64, f64, usize)> = Vec::new();
    for row in rows.filter(|row| held(row)) {
        match out.last_mut() {
            Some(last) if row.onset_s - last.1 <= bridge => {
                last.1 = row.onset_s;
                last.2 += 1;
            }
            _ => out.push((row.onset_s, row.onset_s, 1)),
        }
    }
    out
}
