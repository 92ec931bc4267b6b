//! What happened.

use crate::codes::{TV_EVENT_OTHER, TV_NO_TIME, TV_PRIORITY_NONE, TV_UNSET};
use crate::memory::{bits, code};
use tidevane::alarm::{AlarmValue, Change};
use tidevane::monitor::{Event, EventKind, JournalEntry};
use tidevane::quantity::Instant;
use tidevane::trend::LoadVerdict;

/// Something that happened. What else is told of it depends on `what`.
#[repr(C)]
#[derive(Debug, Clone, Copy)]
pub struct TvEvent {
    /// When it was noticed, in µs of the ticks as a breath's `end_us`: it jumps where the counter does. What a closed
    /// breath brings, such as an alarm on its volume, bears that breath's end, which may lie before events told earlier.
    pub at_us: u64,
    /// The same on the monitor's own time, which a counter set back does not move; of `TV_EVENT_REFUSED` by the tick that
    /// was refused. In the journal `TV_NO_TIME` but for an alarm.
    pub time_us: u64,
    /// The value that goes with it, times 65 536, or `TV_UNSET`: of an alarm mL (a minute for `TV_MINUTE_VOLUME`), per
    /// minute, cmH2O or a share, as its limit; of `TV_ALARM_DISCONNECTION` the share that leaked; of `TV_ALARM_APNOEA` the
    /// length of the pause in ms, not times 65 536; of other events as beside their codes.
    pub value: i32,
    /// Of `TV_EVENT_LOAD` and `TV_EVENT_TIRING`: `TV_SIGN_...`.
    pub signs: u32,
    /// `TV_EVENT_...`.
    pub what: u8,
    /// Of an alarm: `TV_ALARM_...`, `TV_PRIORITY_...`, and 1 where it begins, 0 where it ends.
    pub alarm: u8,
    pub priority: u8,
    pub begins: u8,
    /// Of `TV_EVENT_LOAD`: `TV_LOAD_...`, and `TV_NO_VERDICT_...` where it cannot be told, else 255.
    pub verdict: u8,
    pub no_verdict: u8,
}

/// A line of the journal.
#[repr(C)]
#[derive(Debug, Clone, Copy)]
pub struct TvEntry {
    /// Counts up from 0 by one for each entry; a gap tells of entries that made room.
    pub number: u32,
    pub event: TvEvent,
}

impl TvEntry {
    pub(crate) fn of(entry: &JournalEntry) -> Self {
        Self { number: entry.number, event: TvEvent::of(&entry.event, None) }
    }
}

/// The number and the signs of a verdict, and why there is none.
pub(crate) fn verdict(verdict: &LoadVerdict) -> (u8, u32, u8) {
    let (signs, why) = match verdict {
        LoadVerdict::Hold(signs) | LoadVerdict::StepBack(signs) => (bits(signs), u8::MAX),
        LoadVerdict::NoSign => (0, u8::MAX),
        LoadVerdict::CannotTell(why) => (0, code(why)),
    };
    (code(verdict), signs, why)
}

impl TvEvent {
    pub(crate) const NONE: Self = Self {
        at_us: 0,
        time_us: TV_NO_TIME,
        value: TV_UNSET,
        signs: 0,
        what: TV_EVENT_OTHER,
        alarm: 0,
        priority: TV_PRIORITY_NONE,
        begins: 0,
        verdict: 0,
        no_verdict: u8::MAX,
    };

    /// With its moment on the monitor's own time, which an alarm knows by itself.
    pub(crate) fn of(event: &Event, time: Option<Instant>) -> Self {
        let mut out = Self { at_us: event.at.to_us(), what: code(&event.what), ..Self::NONE };
        out.time_us = time.map_or(TV_NO_TIME, Instant::to_us);
        match event.what {
            EventKind::MissedEffort(effort) | EventKind::ReverseTrigger(effort) => {
                out.value = effort.size.to_bits();
            }
            EventKind::ZeroDrift(flow) => out.value = flow.to_bits(),
            EventKind::LimitReached(volume) => out.value = volume.value.to_bits(),
            EventKind::Load(of) => (out.verdict, out.signs, out.no_verdict) = verdict(&of),
            EventKind::Tiring(signs) => out.signs = bits(&signs),
            EventKind::Alarm(alarm) => {
                out.time_us = alarm.at.to_us();
                out.alarm = u8::try_from(alarm.condition.index()).unwrap_or(u8::MAX);
                out.priority = code(&alarm.priority);
                out.begins = u8::from(alarm.change == Change::On);
                out.value = alarm.value.map_or(TV_UNSET, value);
            }
            _ => {}
        }
        out
    }
}

fn value(value: AlarmValue) -> i32 {
    match value {
        AlarmValue::Volume(volume) => volume.to_bits(),
        AlarmValue::Pressure(pressure) => pressure.to_bits(),
        AlarmValue::Rate(rate) => rate.to_bits(),
        AlarmValue::Share(share) => share.to_bits(),
        AlarmValue::Span(span) => i32::try_from(span.to_us() / 1_000).unwrap_or(i32::MAX),
        _ => TV_UNSET,
    }
}
