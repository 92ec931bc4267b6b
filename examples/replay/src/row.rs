//! One breath, as far as the report needs it.

use crate::figures::float;
use serde::{Deserialize, Serialize};
use tidevane::alarm::BreathKind;
use tidevane::breath::Kind;
use tidevane::leak::LungVolume;
use tidevane::mechanics::{Emptying, FitOutcome, NonlinearElastance};
use tidevane::monitor::BreathReport;
use tidevane::signal::Flags;
use tidevane::trigger::{Cause, ThresholdVerdict};

/// One breath, as far as the report needs it.
#[derive(Clone, Copy, Serialize, Deserialize)]
pub(crate) struct Row {
    pub(crate) onset_s: f64,
    pub(crate) kind: Kind,
    /// What started an inflation; `None` for an own breath.
    pub(crate) cause: Option<Cause>,
    /// Inspiratory and expiratory time, in seconds.
    pub(crate) insp_s: f64,
    pub(crate) exp_s: f64,
    /// Mean airway pressure over the breath.
    pub(crate) mean_pressure: Option<f64>,
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
    pub(crate) verdict: Option<ThresholdVerdict>,
}

impl Row {
    pub(crate) fn of(report: &BreathReport, onset_s: f64) -> Self {
        let breath = &report.breath;
        Self {
            onset_s,
            kind: breath.kind,
            cause: report.initiation.map(|initiation| initiation.cause),
            insp_s: breath.insp_time().to_us() as f64 / 1e6,
            exp_s: breath.exp_time().to_us() as f64 / 1e6,
            mean_pressure: breath.mean_pressure().map(|p| float(p.to_bits())),
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
                NonlinearElastance::Known { share, .. } => Some(float(share.to_bits())),
                NonlinearElastance::Unknown(_) => None,
            },
            short: report.emptying.map(|e| matches!(e, Emptying::Short { .. })),
            verdict: report.trigger.map(|t| t.verdict),
        }
    }

    /// When it ended.
    pub(crate) fn end_s(&self) -> f64 {
        self.onset_s + self.insp_s + self.exp_s
    }
}

/// The stretches in which something held, from the first to the last breath of each; gaps shorter
/// than `bridge` seconds are bridged.
pub(crate) fn stretches(
    rows: impl Iterator<Item = Row>,
    held: impl Fn(&Row) -> bool,
    bridge: f64,
) -> Vec<(f64, f64, usize)> {
    let mut out: Vec<(f64, f64, usize)> = Vec::new();
    for row in rows.filter(held) {
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
