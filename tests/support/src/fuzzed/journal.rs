//! The journal over any row of reports.
//!
//! - Numbers count up by one, whatever was dropped; nothing that belongs is missing, but for gaps and
//!   refusals within a minute after one of their kind that is held.
//! - Held and lost and taken add up to all that was kept.
//! - An entry that was written out comes back to the bit.

use super::bytes::Bytes;
use std::collections::VecDeque;
use tidevane::alarm::{AlarmEvent, AlarmValue, Change, Condition, Measure, Priority};
use tidevane::monitor::{Event, EventKind, Journal, JournalEntry, MachineSettings, Report};
use tidevane::quantity::{Duration, Flow, Instant, Pressure, Rate};
use tidevane::signal::Refusal;
use tidevane::trend::{LoadSigns, LoadVerdict, NoVerdict};
use tidevane::trigger::{Threshold, TriggerKind};

const ROOM: usize = 5;

/// Writes an entry out and reads it again. Given from outside, since the core needs a feature for it.
pub type Again = fn(&JournalEntry) -> JournalEntry;

/// Holds all of the above.
///
/// # Panics
/// Where one of them does not hold.
pub fn check(data: &[u8], again: Again) {
    let mut bytes = Bytes(data);
    let mut journal = Journal::<ROOM>::new();
    let mut want: VecDeque<JournalEntry> = VecDeque::new();
    let (mut next, mut lost) = (0_u32, 0_u32);
    while let Some(what) = bytes.u8() {
        if what >= 224 {
            assert_eq!(journal.pop(), want.pop_front());
        } else {
            let mut report = Report::default();
            for _ in 0..=what % 8 {
                let Some((event, kept)) = event(&mut bytes) else { return };
                let _ = report.events.push(event);
                let swarms = matches!(event.what, EventKind::Gap { .. } | EventKind::Refused(_));
                let is_again = want.iter().any(|entry| {
                    let (at, before) = (event.at.to_us(), entry.event.at.to_us());
                    entry.event.what.name() == event.what.name()
                        && at >= before
                        && at - before < 60_000_000
                });
                if kept && !(swarms && is_again) {
                    want.push_back(JournalEntry { number: next, event });
                    next += 1;
                    if want.len() > ROOM {
                        want.pop_front();
                        lost += 1;
                    }
                }
            }
            journal.take(&report);
        }
        assert!(journal.entries().eq(&want), "{journal:?} {want:?}");
        assert_eq!((journal.len(), journal.lost()), (want.len(), lost));
        assert_eq!(journal.is_empty(), want.is_empty());
        for entry in journal.entries() {
            assert_eq!(&again(entry), entry);
        }
    }
}

/// An event, and whether it belongs into a journal.
fn event(bytes: &mut Bytes<'_>) -> Option<(Event, bool)> {
    let what = bytes.u8()?;
    let raw = bytes.i32()?;
    let at = Instant::from_us(bytes.u32()?.into());
    let set = MachineSettings {
        trigger: TriggerKind::ALL[usize::from(what) % 5],
        threshold: Threshold::new(Flow::from_bits(raw)).ok(),
        set_rate: (what & 16 != 0).then_some(Rate::from_bits(raw)),
        peak: (what & 32 != 0).then_some(Pressure::from_bits(raw)),
        support_peak: (what & 64 != 0).then_some(Pressure::from_bits(raw / 2)),
    };
    let (what, kept) = match what % 10 {
        0 => (EventKind::Gap { since: at, cut: what & 16 != 0 }, true),
        1 => (EventKind::Stuck, false),
        2 => (EventKind::Refused(Refusal::NotLater), true),
        3 => (EventKind::ZeroDrift(Flow::from_bits(raw)), true),
        4 => (EventKind::SettingsChanged(set), true),
        5 => (EventKind::WeanStep(set), true),
        6 => (EventKind::Load(LoadVerdict::StepBack(LoadSigns::PAUSES)), true),
        7 => (EventKind::Load(LoadVerdict::CannotTell(NoVerdict::NoVolume)), true),
        8 => (EventKind::DoubleTrigger, false),
        _ => {
            let condition = Condition::all().nth(usize::from(what / 10))?;
            let alarm = AlarmEvent {
                at,
                condition,
                priority: Priority::ALL[usize::from(what) % 3],
                change: if what & 1 == 0 { Change::On } else { Change::Off },
                value: match condition {
                    Condition::Low(Measure::Rate) => Some(AlarmValue::Rate(Rate::from_bits(raw))),
                    Condition::Apnoea => Some(AlarmValue::Span(Duration::from_us(u64::MAX))),
                    _ => None,
                },
            };
            (EventKind::Alarm(alarm), true)
        }
    };
    Some((Event { at, what }, kept))
}
