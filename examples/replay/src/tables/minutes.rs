//! One minute of a recording as a row of a table.

use super::column::{Cell, Column};
use tidevane::alarm::Change;
use tidevane::breath::Kind;
use tidevane::leak::LungVolume;
use tidevane::mechanics::FitOutcome;
use tidevane::monitor::{BreathReport, Event, EventKind};
use tidevane::quantity::{Instant, Volume};

/// Volumes, pressures and the leak are those of trusted breaths, and less than all where some are flagged; a mean of
/// none is not known.
pub(crate) const COLUMNS: [Column; 17] = [
    Column::count("minute"),
    Column::time("start_us"),
    Column::count("samples"),
    Column::count("breaths"),
    Column::count("inflations"),
    Column::count("own"),
    Column::count("flagged"),
    Column::count("self_cycled"),
    Column::count("missed_efforts"),
    Column::count("alarms"),
    Column::number("trusted_insp_ml", "mL", 1),
    Column::number("trusted_exp_ml", "mL", 1),
    Column::number("leak_share", "1", 4),
    Column::number("corrected_mean_ml", "mL", 3),
    Column::number("inflation_peak_mean_cmH2O", "cmH2O", 2),
    Column::number("compliance_mean_ml_per_cmH2O", "mL/cmH2O", 3),
    Column::number("resistance_mean_cmH2O_s_per_l", "cmH2O/(L/s)", 1),
];

/// A row is written when nothing more is expected of its minute: so many minutes later.
const LATE: u64 = 2;

/// The minutes under way, the oldest first.
#[derive(Default)]
pub(crate) struct Minutes {
    first: u64,
    open: std::collections::VecDeque<Minute>,
}

/// What a minute has come to so far.
#[derive(Debug, Default, Clone)]
struct Minute {
    start: Option<Instant>,
    samples: u64,
    breaths: u64,
    inflations: u64,
    flagged: u64,
    self_cycled: u64,
    missed: u64,
    alarms: u64,
    inspired: f64,
    expired: f64,
    trusted: u64,
    lung: Mean,
    peak: Mean,
    compliance: Mean,
    resistance: Mean,
}

#[derive(Debug, Default, Clone, Copy)]
struct Mean {
    sum: f64,
    count: u32,
}

impl Mean {
    fn take(&mut self, value: f64) {
        self.sum += value;
        self.count += 1;
    }

    fn get(self) -> Option<f64> {
        (self.count > 0).then(|| self.sum / f64::from(self.count))
    }
}

impl Minutes {
    /// The minute of a time in seconds; a time of one already written counts for the oldest open.
    fn at(&mut self, seconds: f64) -> &mut Minute {
        let minute = ((seconds / 60.0).max(0.0) as u64).max(self.first);
        let place = (minute - self.first) as usize;
        if place >= self.open.len() {
            self.open.resize(place + 1, Minute::default());
        }
        &mut self.open[place]
    }

    pub(crate) fn reading(&mut self, at: Instant, seconds: f64) {
        let minute = self.at(seconds);
        minute.start.get_or_insert(at);
        minute.samples += 1;
    }

    pub(crate) fn breath(&mut self, report: &BreathReport, onset_s: f64) {
        let breath = &report.breath;
        let minute = self.at(onset_s);
        let inflation = breath.kind == Kind::Inflation;
        minute.breaths += 1;
        minute.inflations += u64::from(inflation);
        minute.self_cycled +=
            u64::from(report.initiation.is_some_and(|i| i.cause.is_self_cycled()));
        if !breath.is_trusted() {
            minute.flagged += 1;
            return;
        }
        let double = |volume: Volume| volume.get().to_num::<f64>();
        minute.trusted += 1;
        minute.inspired += double(breath.inspired.value);
        minute.expired += double(breath.expired.value);
        if inflation {
            minute.peak.take(breath.peak.get().to_num());
        }
        if let LungVolume::Known { volume, .. } = report.lung {
            minute.lung.take(double(volume));
        }
        if let FitOutcome::Known { compliance, resistance, .. } = report.mechanics {
            minute.compliance.take(compliance.get().to_num());
            minute.resistance.take(resistance.get().to_num());
        }
    }

    pub(crate) fn event(&mut self, event: &Event, at_s: f64) {
        match event.what {
            EventKind::MissedEffort(_) => self.at(at_s).missed += 1,
            EventKind::Alarm(alarm) if alarm.change == Change::On => self.at(at_s).alarms += 1,
            _ => {}
        }
    }

    /// The next row that is whole at a time in seconds; any that is left, where the recording is over.
    pub(crate) fn next(&mut self, now_s: Option<f64>) -> Option<Vec<Cell>> {
        let is_late = |now: f64| (now / 60.0) as u64 >= self.first + LATE;
        if !now_s.is_none_or(is_late) {
            return None;
        }
        let minute = self.open.pop_front()?;
        let number = self.first;
        self.first += 1;
        Some(minute.row(number))
    }
}

impl Minute {
    fn row(&self, number: u64) -> Vec<Cell> {
        let known = |sum: f64| (self.trusted > 0).then_some(sum);
        let leak = (self.inspired > 0.0).then(|| (self.inspired - self.expired) / self.inspired);
        vec![
            Cell::Count(number),
            Cell::Time(self.start.map_or(0, Instant::to_us)),
            Cell::Count(self.samples),
            Cell::Count(self.breaths),
            Cell::Count(self.inflations),
            Cell::Count(self.breaths - self.inflations),
            Cell::Count(self.flagged),
            Cell::Count(self.self_cycled),
            Cell::Count(self.missed),
            Cell::Count(self.alarms),
            Cell::Number(known(self.inspired)),
            Cell::Number(known(self.expired)),
            Cell::Number(leak),
            Cell::Number(self.lung.get()),
            Cell::Number(self.peak.get()),
            Cell::Number(self.compliance.get()),
            Cell::Number(self.resistance.get()),
        ]
    }
}
