//! One event as a row of a table.

use super::column::{Cell, Column};
use tidevane::monitor::{Event, EventKind, Monitor, Report};
use tidevane::quantity::Instant;

pub(crate) const COLUMNS: [Column; 4] =
    [Column::time("t_us"), Column::text("event"), Column::text("detail"), Column::time("time_us")];

/// The cells of an event, and its moment on the monitor's own time.
pub(crate) fn of(event: &Event, time: Instant) -> [Cell; COLUMNS.len()] {
    [
        Cell::Time(event.at.to_us()),
        Cell::Text(event.what.name().into()),
        Cell::Text(event.to_string()),
        Cell::Time(time.to_us()),
    ]
}

/// The events of a report, each with its moment on the monitor's own time.
pub(crate) fn timed<'a>(
    report: &'a Report,
    monitor: &'a Monitor,
) -> impl Iterator<Item = (&'a Event, Instant)> {
    // What a clock that was set back cuts off ended where the new time begins.
    let reset = report.events.iter().rposition(|e| matches!(e.what, EventKind::ClockReset { .. }));
    report.events.iter().enumerate().map(move |(i, event)| {
        let at = reset.and_then(|reset| report.events.get(reset.max(i))).unwrap_or(event).at;
        let time = match event.what {
            EventKind::Alarm(alarm) => alarm.at,
            _ => monitor.time_of(at),
        };
        (event, time)
    })
}
