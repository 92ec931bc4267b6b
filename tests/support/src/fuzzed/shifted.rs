//! A report with every time moved back by a constant.

use tidevane::alarm::AlarmEvent;
use tidevane::breath::Lead;
use tidevane::mechanics::Jump;
use tidevane::monitor::{BreathReport, Event, Happening, Report};
use tidevane::quantity::Moment;
use tidevane::trigger::Effort;

fn back(moment: Moment, by: u64) -> Moment {
    Moment::from_us(moment.to_us().checked_sub(by).expect("a time from before the beginning"))
}

/// The report as it would read `by` microseconds earlier, each alarm at its event's time: the alarms'
/// own time counts from power-up and does not move with the samples'.
pub(crate) fn shifted(report: &Report, by: u64) -> Report {
    let mut out = Report { breath: report.breath.map(|b| breath(b, by)), ..Report::default() };
    for event in &report.events {
        let at = match event.what {
            // Before a reading told the time it counts from power-up on.
            Happening::Alarm(_) | Happening::SettingsChanged(_) | Happening::WeanStep(_)
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
    b.lead = Lead { until: back(b.lead.until, by), ..b.lead };
    closed
}

fn happening(what: Happening, at: Moment, by: u64) -> Happening {
    match what {
        Happening::Gap { since, cut } => Happening::Gap { since: back(since, by), cut },
        Happening::ClockReset { since } => Happening::ClockReset { since: back(since, by) },
        Happening::MissedEffort(effort) => {
            Happening::MissedEffort(Effort { at: back(effort.at, by), ..effort })
        }
        Happening::ReverseTrigger(effort) => {
            Happening::ReverseTrigger(Effort { at: back(effort.at, by), ..effort })
        }
        Happening::LungChanged(jump) => Happening::LungChanged(match jump {
            Jump::Compliance { since, before, after } => {
                Jump::Compliance { since: back(since, by), before, after }
            }
            Jump::Resistance { since, before, after } => {
                Jump::Resistance { since: back(since, by), before, after }
            }
        }),
        Happening::Alarm(alarm) => Happening::Alarm(AlarmEvent { at, ..alarm }),
        other => other,
    }
}
