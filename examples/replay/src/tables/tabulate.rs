//! A recording through a monitor of its own, into tables: nothing is kept but what is under way.

use super::column::{Cell, Column};
use super::minutes::Minutes;
use super::summary::Totals;
use super::{breaths, events, minutes, summary};
use crate::config::{Course, Setup};
use crate::source::Source;
use crate::stream::{Step, Stream};
use crate::timeline::Timeline;
use anyhow::{Result, bail};
use tidevane::alarm::VitalSigns;
use tidevane::monitor::{Monitor, Report};

/// A table of a recording.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Table {
    /// A row a breath.
    Breaths,
    /// A row an event.
    Events,
    /// A row a minute.
    Minutes,
    /// One row.
    Summary,
}

impl Table {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Breaths, Self::Events, Self::Minutes, Self::Summary];

    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Breaths => "breaths",
            Self::Events => "events",
            Self::Minutes => "minutes",
            Self::Summary => "summary",
        }
    }

    /// Its columns.
    #[must_use]
    pub const fn columns(self) -> &'static [Column] {
        match self {
            Self::Breaths => &breaths::COLUMNS,
            Self::Events => &events::COLUMNS,
            Self::Minutes => &minutes::COLUMNS,
            Self::Summary => &summary::COLUMNS,
        }
    }
}

/// What takes the rows.
pub trait Sink {
    /// The next row of a table.
    ///
    /// # Errors
    /// Where it cannot be kept; the recording is then given up.
    fn row(&mut self, table: Table, row: &[Cell]) -> Result<()>;

    /// Asked now and then.
    ///
    /// # Errors
    /// Where the recording is to be given up.
    fn go_on(&mut self) -> Result<()> {
        Ok(())
    }
}

/// So many samples lie between two questions whether to go on.
const ASKED: u64 = 1 << 16;

/// Feeds everything through; gives the number of breaths.
pub(crate) fn tabulate(source: &mut Source, setup: &Setup, sink: &mut impl Sink) -> Result<u64> {
    let mut course = Course::of_file(setup.changes.clone().unwrap_or_default())?;
    let mut run = Run {
        monitor: Monitor::new(setup.settings),
        timeline: Timeline::new(setup.cut),
        totals: Totals::default(),
        minutes: Minutes::default(),
        sink,
    };
    let mut signs = VitalSigns::default();
    let mut report = Report::default();
    let mut stream = Stream::new(source, setup.cut);
    while let Some(step) = stream.next()? {
        match step {
            Step::Lost => run.monitor.lost_into(&mut report),
            Step::Silent(at) => run.monitor.tick_at_into(at, &mut report),
            Step::Reading(at, reading) => {
                run.totals.samples += 1;
                if run.totals.samples.is_multiple_of(ASKED) {
                    run.sink.go_on()?;
                }
                run.timeline.reading(at);
                let seconds = run.timeline.seconds();
                run.minutes.reading(at, seconds);
                while let Some(row) = run.minutes.next(Some(seconds)) {
                    run.sink.row(Table::Minutes, &row)?;
                }
                while let Some(change) = course.due(seconds) {
                    signs = change.signs(signs);
                    run.monitor.set_vital_signs(signs);
                    let settings = change.apply(run.monitor.settings())?;
                    let report = run.monitor.settings_changed(at, settings);
                    run.take(&report)?;
                }
                run.monitor.push_at_into(at, reading, &mut report);
            }
        }
        if !report.is_silent() {
            run.take(&report)?;
        }
    }
    loop {
        let report = run.monitor.finish();
        if report.is_silent() {
            break;
        }
        run.take(&report)?;
    }
    if run.totals.samples == 0 {
        bail!("{}", source.unusable());
    }
    run.totals.bad_rows = source.bad_lines();
    while let Some(row) = run.minutes.next(None) {
        run.sink.row(Table::Minutes, &row)?;
    }
    let row = run.totals.row(run.timeline.seconds(), &run.monitor);
    run.sink.row(Table::Summary, &row)?;
    Ok(run.totals.breaths)
}

struct Run<'a, S: Sink> {
    monitor: Monitor,
    timeline: Timeline,
    totals: Totals,
    minutes: Minutes,
    sink: &'a mut S,
}

impl<S: Sink> Run<'_, S> {
    fn take(&mut self, report: &Report) -> Result<()> {
        for (event, time) in events::timed(report, &self.monitor) {
            self.totals.event(event);
            self.minutes.event(event, self.timeline.seconds_at(event.at));
            self.sink.row(Table::Events, &events::of(event, time))?;
        }
        if let Some(breath) = &report.breath {
            self.totals.breath(breath);
            self.minutes.breath(breath, self.timeline.seconds_at(breath.breath.onset));
            self.sink.row(Table::Breaths, &breaths::of(breath))?;
        }
        Ok(())
    }
}
