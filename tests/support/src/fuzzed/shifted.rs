//! A report with every time moved back by a constant.

use tidevane::alarm::AlarmEvent;
use tidevane::breath::TriggerPhase;
use tidevane::mechanics::Jump;
use tidevane::monitor::{BreathReport, Event, EventKind, Report};
use tidevane::quantity::Instant;
use tidevane::trigger::Effort;

fn back(moment: Instant, by: u64) -> Instant {
    Instant::from_us(moment.to_us().checked_sub(by).expect("a time from before the beginning"))
}

/// The report as it would read `by` microseconds earlier, each alarm at its event's time: the alarms'
/// own time counts from power-up and does not move with the samples'.
pub(crate) fn shifted(report: &Report, by: u64) -> Report {
    let mut out = Report::default();
    out.breath = report.breath.map(|b| breath(b, by));
    for event in &report.events {
        let at = match event.what {
            // Before a reading told the time it counts from power-up on.
            EventKind::Alarm(_) | EventKind::SettingsChanged(_) | EventKind::WeanStep(_)
                if event.at.to_us() < by =>
            {
                event.at
            }
            _ => back(event.at, by),
        };
        let _ = out.events.push(Event { at, what: happening(event.what, at, by) });
    }
    out
}

fn breath(mut closed: BreathReport, by: u64) -> BreathReport {
    let b = &mut closed.breath;
    for moment in [&mut b.onset, &mut b.end_insp, &mut b.end, &mut b.out_until] {
        *moment = back(*moment, by);
    }
    closed.found = back(closed.found, by);
    if closed.time.to_us() >= by {
        closed.time = back(closed.time, by);
    }
    b.pressure_rise = b.pressure_rise.map(|rise| back(rise, by));
    b.lead = TriggerPhase { until: back(b.lead.until, by), ..b.lead };
    closed
}

fn happening(what: EventKind, at: Instant, by: u64) -> EventKind {
    match what {
        EventKind::Gap { since, cut } => EventKind::Gap { since: back(since, by), cut },
        EventKind::ClockReset { since } => EventKind::ClockReset { since: back(since, by) },
        EventKind::MissedEffort(effort) => {
            EventKind::MissedEffort(Effort { at: back(effort.at, by), ..effort })
        }
        EventKind::ReverseTrigger(effort) => {
            EventKind::ReverseTrigger(Effort { at: back(effort.at, by), ..effort })
        }
        EventKind::LungChanged(jump) => EventKind::LungChanged(match jump {
            Jump::Compliance { since, before, after } => {
                Jump::Compliance { since: back(since, by), before, after }
            }
            Jump::Resistance { since, before, after } => {
                Jump::Resistance { since: back(since, by), before, after }
            }
        }),
        EventKind::Alarm(alarm) => EventKind::Alarm(AlarmEvent { at, ..alarm }),
        other => other,
    }
}
