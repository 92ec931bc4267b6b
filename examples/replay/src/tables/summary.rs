//! A whole recording as one row of a table.

use super::column::{Cell, Column};
use crate::answer::alerts;
use crate::doubt::Doubt;
use crate::figures::Summary;
use std::collections::BTreeMap;
use tidevane::alarm::Change;
use tidevane::breath::Kind;
use tidevane::monitor::{BreathReport, Event, EventKind, Monitor};
use tidevane::quantity::Volume;
use tidevane::trend::LoadVerdict;
use tidevane::trigger::Cause;

/// Volumes and the leak are those of all trusted breaths together; verdict and threshold are what is made of them
/// at the end, with the reason where that cannot be told; alerts are those on top of the recording's own page; for how
/// long nothing usable was heard in all and at the end; what makes all of it doubtful stands in the last.
pub(crate) const COLUMNS: [Column; 31] = [
    Column::number("hours", "h", 4),
    Column::number("samples_per_s", "1/s", 1),
    Column::count("samples"),
    Column::count("bad_rows"),
    Column::count("refused"),
    Column::count("gaps"),
    Column::count("breaths"),
    Column::count("inflations"),
    Column::count("own"),
    Column::count("flagged"),
    Column::count("implausible"),
    Column::number("insp_mean_ml", "mL", 3),
    Column::number("exp_mean_ml", "mL", 3),
    Column::number("leak_share", "1", 4),
    Column::count("timed"),
    Column::count("effort"),
    Column::count("self_leak"),
    Column::count("self_ripple"),
    Column::count("unknown"),
    Column::count("missed_efforts"),
    Column::count("double_triggers"),
    Column::count("reverse_triggers"),
    Column::count("alarms"),
    Column::text("alarms_by_name"),
    Column::count("step_backs"),
    Column::text("verdict"),
    Column::text("threshold"),
    Column::text("alerts"),
    Column::number("blind_all_s", "s", 1),
    Column::number("blind_s", "s", 1),
    Column::text("doubt"),
];

/// What a recording has come to so far.
#[derive(Debug, Default)]
pub(crate) struct Totals {
    pub(crate) samples: u64,
    pub(crate) bad_rows: u64,
    refused: u64,
    gaps: u64,
    pub(crate) breaths: u64,
    inflations: u64,
    flagged: u64,
    implausible: u64,
    trusted: u64,
    inspired: f64,
    expired: f64,
    /// By timer, effort, leak, ripple, and unknown.
    causes: [u64; 5],
    missed: u64,
    doubles: u64,
    reverse: u64,
    alarms: BTreeMap<String, u64>,
    step_backs: u64,
}

impl Totals {
    pub(crate) fn breath(&mut self, report: &BreathReport) {
        let breath = &report.breath;
        self.breaths += 1;
        self.inflations += u64::from(breath.kind == Kind::Inflation);
        self.implausible += u64::from(report.implausible.is_some());
        if let Some(initiation) = report.initiation {
            self.causes[match initiation.cause {
                Cause::Timed => 0,
                Cause::Effort => 1,
                Cause::SelfLeak => 2,
                Cause::SelfRipple => 3,
                Cause::Unknown(_) => 4,
            }] += 1;
        }
        if breath.is_trusted() {
            let double = |volume: Volume| volume.get().to_num::<f64>();
            self.trusted += 1;
            self.inspired += double(breath.inspired.value);
            self.expired += double(breath.expired.value);
        } else {
            self.flagged += 1;
        }
    }

    pub(crate) fn event(&mut self, event: &Event) {
        match event.what {
            EventKind::Gap { .. } | EventKind::ClockReset { .. } => self.gaps += 1,
            EventKind::Refused(_) => self.refused += 1,
            EventKind::MissedEffort(_) => self.missed += 1,
            EventKind::DoubleTrigger => self.doubles += 1,
            EventKind::ReverseTrigger(_) => self.reverse += 1,
            EventKind::Load(verdict) => {
                self.step_backs += u64::from(matches!(verdict, LoadVerdict::StepBack(_)));
            }
            EventKind::Alarm(alarm) if alarm.change == Change::On => {
                *self.alarms.entry(alarm.condition.to_string()).or_default() += 1;
            }
            _ => {}
        }
    }

    /// The row, of a recording whose end is this.
    pub(crate) fn row(&self, end: &Summary, monitor: &Monitor, doubts: &[Doubt]) -> Vec<Cell> {
        let seconds = end.seconds;
        let alerts: Vec<_> = alerts(end).into_iter().chain(end.blind.alert()).collect();
        let mean = |sum: f64| (self.trusted > 0).then(|| sum / self.trusted as f64);
        let leak = (self.inspired > 0.0).then(|| (self.inspired - self.expired) / self.inspired);
        let samples_per_s =
            (self.samples > 1 && seconds > 0.0).then(|| (self.samples - 1) as f64 / seconds);
        let rang: Vec<_> = self.alarms.iter().map(|(name, n)| format!("{name} {n}")).collect();
        let [timed, effort, self_leak, self_ripple, unknown] = self.causes.map(Cell::Count);
        vec![
            Cell::Number(Some(seconds / 3_600.0)),
            Cell::Number(samples_per_s),
            Cell::Count(self.samples),
            Cell::Count(self.bad_rows),
            Cell::Count(self.refused),
            Cell::Count(self.gaps),
            Cell::Count(self.breaths),
            Cell::Count(self.inflations),
            Cell::Count(self.breaths - self.inflations),
            Cell::Count(self.flagged),
            Cell::Count(self.implausible),
            Cell::Number(mean(self.inspired)),
            Cell::Number(mean(self.expired)),
            Cell::Number(leak),
            timed,
            effort,
            self_leak,
            self_ripple,
            unknown,
            Cell::Count(self.missed),
            Cell::Count(self.doubles),
            Cell::Count(self.reverse),
            Cell::Count(self.alarms.values().sum()),
            Cell::Text(rang.join("; ")),
            Cell::Count(self.step_backs),
            Cell::Text(monitor.verdict().to_string()),
            Cell::Text(monitor.threshold_advice().to_string()),
            Cell::Text(alerts.join(" ")),
            Cell::Number(Some(end.blind.seconds())),
            Cell::Number(Some(end.blind_s)),
            Cell::Text(doubts.iter().map(|doubt| &*doubt.short).collect::<Vec<_>>().join("; ")),
        ]
    }
}
