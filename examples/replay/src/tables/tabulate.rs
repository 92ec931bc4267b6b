//! A recording through a monitor of its own, into tables: nothing is kept but what is under way.

use super::column::{Cell, Column};
use super::minutes::Minutes;
use super::summary::Totals;
use super::{breaths, events, minutes, summary};
use crate::config::Setup;
use crate::doubt::Seen;
use crate::feed::{Fed, Listener, feed};
use crate::figures::Summary;
use crate::source::Source;
use crate::timeline::Timeline;
use anyhow::Result;
use tidevane::alarm::VitalSigns;
use tidevane::monitor::{Monitor, Report, Settings};
use tidevane::quantity::Instant;
use tidevane::signal::Reading;

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
    let (seen, totals) = (Seen::default(), Totals::default());
    let end = Summary::of_alerts(source.name(), setup);
    let mut run = Run { totals, seen, end, minutes: Minutes::default(), sink };
    let Fed { monitor, timeline, blind, .. } = feed(source, setup, false, &mut run)?;
    let Run { mut totals, mut seen, mut end, mut minutes, sink } = run;
    end.seconds = timeline.seconds();
    end.hear_no_more(blind, &monitor);
    totals.bad_rows = source.bad_lines();
    while let Some(row) = minutes.next(None) {
        sink.row(Table::Minutes, &row)?;
    }
    end.doubts = seen.of_all(end.seconds, end.kg(), source.columns(), &|at| end.clock(at));
    let doubts = [end.doubts.clone(), seen.of_breaths()].concat();
    let row = totals.row(&end, &monitor, &doubts);
    sink.row(Table::Summary, &row)?;
    Ok(totals.breaths)
}

struct Run<'a, S: Sink> {
    totals: Totals,
    seen: Seen,
    /// What alerts rest on.
    end: Summary,
    minutes: Minutes,
    sink: &'a mut S,
}

impl<S: Sink> Listener for Run<'_, S> {
    fn reading(&mut self, at: Instant, reading: Reading, timeline: &Timeline) -> Result<()> {
        self.totals.samples += 1;
        self.end.wall.follow(timeline);
        if self.totals.samples.is_multiple_of(ASKED) {
            self.sink.go_on()?;
        }
        let seconds = timeline.seconds();
        self.seen.reading(at, seconds, reading);
        self.minutes.reading(at, seconds);
        while let Some(row) = self.minutes.next(Some(seconds)) {
            self.sink.row(Table::Minutes, &row)?;
        }
        Ok(())
    }

    fn change(
        &mut self,
        _at: Instant,
        to: &Settings,
        _signs: VitalSigns,
        monitor: &Monitor,
        timeline: &Timeline,
    ) {
        self.end.change(timeline.seconds(), to, monitor);
    }

    fn report(&mut self, report: &Report, monitor: &Monitor, timeline: &Timeline) -> Result<()> {
        for (event, time) in events::timed(report, monitor) {
            self.totals.event(event);
            self.minutes.event(event, timeline.seconds_at(event.at));
            self.sink.row(Table::Events, &events::of(event, time))?;
        }
        if let Some(breath) = &report.breath {
            self.totals.breath(breath);
            self.seen.breath(breath);
            let onset_s = timeline.seconds_at(breath.breath.onset);
            self.end.row(breath, onset_s)?;
            self.minutes.breath(breath, onset_s);
            self.sink.row(Table::Breaths, &breaths::of(breath))?;
        }
        Ok(())
    }
}
