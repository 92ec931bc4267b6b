//! The figures that the report quotes.

use crate::text::decimals;
use std::collections::BTreeMap;
use tidevane::alarm::{Change, VolumeHistory};
use tidevane::breath::{Breath, Kind};
use tidevane::leak::{Leak, LeakFit, LungVolume};
use tidevane::mechanics::{Bend, Emptying, FitOutcome};
use tidevane::monitor::{BreathReport, Event, Happening, Monitor, Settings};
use tidevane::quantity::{Moment, Pressure};
use tidevane::trigger::{Advice, Expected, Initiation, Synchrony, TriggerCheck, Verdict};
use tidevane::volume::{Bound, Proposed};

/// One breath, as far as the report needs it.
pub(crate) struct Row {
    pub(crate) onset_s: f64,
    pub(crate) period_s: f64,
    pub(crate) kind: Kind,
    pub(crate) trusted: bool,
    pub(crate) inspired_ml: f64,
    pub(crate) expired_ml: f64,
    pub(crate) peak: f64,
    pub(crate) baseline: f64,
    pub(crate) leak_window: Option<f64>,
    pub(crate) lung_ml: Option<f64>,
    /// Compliance, resistance and time constant (s) of a passive breath.
    pub(crate) mechanics: Option<[f64; 3]>,
    /// The share of the elastance at the end of a passive breath that came with volume.
    pub(crate) bend: Option<f64>,
    /// Whether a breath's expiration was too short to empty the lung.
    pub(crate) short: Option<bool>,
    pub(crate) verdict: Option<Verdict>,
    /// An own breath under whose outward flow the pressure stood as high as under an inflation.
    pub(crate) upside_down: bool,
}

/// What a whole recording came to.
pub(crate) struct Summary {
    pub(crate) source: String,
    pub(crate) samples: u64,
    pub(crate) bad_lines: u64,
    pub(crate) rows: Vec<Row>,
    /// Settings that came into force along the way, with their time in seconds.
    pub(crate) changes: Vec<(f64, Settings)>,
    pub(crate) trigger: Option<TriggerCheck>,
    pub(crate) leak: Option<Leak>,
    /// The first inflation that the machine started by itself, with its evidence.
    pub(crate) self_cycled: Option<(f64, Initiation)>,
    pub(crate) synchrony: Synchrony,
    pub(crate) advice: Option<Advice>,
    /// The latest proposal, and how many were made and held at the ceiling.
    pub(crate) proposal: Option<Proposed>,
    pub(crate) proposals: usize,
    pub(crate) at_ceiling: usize,
    pub(crate) steps: Vec<Expected>,
    pub(crate) leak_fit: LeakFit,
    pub(crate) volumes: VolumeHistory,
    /// How often each alarm began.
    pub(crate) alarms: BTreeMap<String, u64>,
    pub(crate) limits_reached: u64,
    pub(crate) gaps: u64,
    pub(crate) stuck: u64,
    pub(crate) clipped: u64,
    pub(crate) refused: u64,
    /// Length of the recording.
    pub(crate) seconds: f64,
    inflation_rise: Pressure,
}

fn float(bits: i32) -> f64 {
    f64::from(bits) / 65_536.0
}

impl Summary {
    pub(crate) fn new(source: String, inflation_rise: Pressure) -> Self {
        Self {
            source,
            samples: 0,
            bad_lines: 0,
            rows: Vec::new(),
            changes: Vec::new(),
            trigger: None,
            leak: None,
            self_cycled: None,
            synchrony: Synchrony::default(),
            advice: None,
            proposal: None,
            proposals: 0,
            at_ceiling: 0,
            steps: Vec::new(),
            leak_fit: LeakFit::Unknown,
            volumes: VolumeHistory::default(),
            alarms: BTreeMap::new(),
            limits_reached: 0,
            gaps: 0,
            stuck: 0,
            clipped: 0,
            refused: 0,
            seconds: 0.0,
            inflation_rise,
        }
    }

    pub(crate) fn event(&mut self, event: &Event) {
        match event.what {
            Happening::Gap { .. } | Happening::ClockReset { .. } => self.gaps += 1,
            Happening::Stuck => self.stuck += 1,
            Happening::Clipped => self.clipped += 1,
            Happening::Refused(_) => self.refused += 1,
            Happening::LimitReached(_) => self.limits_reached += 1,
            Happening::Alarm(alarm) if alarm.change == Change::On => {
                *self.alarms.entry(alarm.condition.to_string()).or_default() += 1;
            }
            _ => {}
        }
    }

    pub(crate) fn breath(&mut self, report: &BreathReport) {
        let breath = &report.breath;
        self.volumes.learn(&report.view());
        let seconds = |at: Moment| at.to_us() as f64 / 1e6;
        self.rows.push(Row {
            onset_s: seconds(breath.onset),
            period_s: breath.end.since(breath.onset).to_us() as f64 / 1e6,
            kind: breath.kind,
            trusted: breath.is_trusted(),
            inspired_ml: float(breath.inspired().value.to_bits()),
            expired_ml: float(breath.expired().value.to_bits()),
            peak: float(breath.peak.to_bits()),
            baseline: float(breath.baseline.to_bits()),
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
            upside_down: is_upside_down(breath, self.inflation_rise),
        });
        if let Some(initiation) = report.initiation.filter(|i| i.cause.is_self_cycled()) {
            self.self_cycled.get_or_insert((seconds(breath.onset), initiation));
        }
        self.proposal = report.proposal.or(self.proposal);
        if let Some(Proposed::Peak { bound, .. }) = report.proposal {
            self.proposals += 1;
            self.at_ceiling += usize::from(bound == Bound::Ceiling);
        }
        self.trigger = report.trigger.or(self.trigger);
        self.leak = Some(report.leak_window);
    }

    /// What the monitor knows at the end.
    pub(crate) fn finish(&mut self, monitor: &Monitor) {
        self.synchrony = *monitor.synchrony();
        self.advice = Some(monitor.threshold_advice());
        self.steps = monitor.threshold_table().collect();
        self.leak_fit = monitor.leak_fit();
    }

    /// Whether most trusted breaths look as if the flow had the wrong sign.
    pub(crate) fn is_upside_down(&self) -> bool {
        let odd = self.trusted().filter(|row| row.upside_down).count();
        2 * odd > self.trusted().count()
    }

    /// The trusted breaths.
    pub(crate) fn trusted(&self) -> impl Iterator<Item = &Row> + Clone {
        self.rows.iter().filter(|row| row.trusted)
    }

    /// The trusted breaths of one kind.
    pub(crate) fn of_kind(&self, kind: Kind) -> impl Iterator<Item = &Row> + Clone {
        self.trusted().filter(move |row| row.kind == kind)
    }
}

fn is_upside_down(breath: &Breath, inflation_rise: Pressure) -> bool {
    let means = (breath.inspiration.mean_pressure(), breath.expiration.mean_pressure());
    let (Some(inward), Some(outward)) = means else { return false };
    breath.kind == Kind::Own && outward.saturating_sub(inward).value > inflation_rise
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
