//! What the journal exports comes back the same, and a bad value does not come in.
#![cfg(feature = "serde")]

use tidevane::alarm::{AlarmEvent, AlarmValue, BreathKind, Change, Condition, Measure, Priority};
use tidevane::monitor::{Event, EventKind, JournalEntry, MachineSettings, Monitor, Report};
use tidevane::quantity::{Flow, Instant, Pressure, Rate, Volume};
use tidevane::trend::{LoadSigns, LoadVerdict, NoVerdict};
use tidevane::trigger::{Threshold, TriggerKind};
use tidevane_support::leaky::{recording, settings};

fn entries() -> Vec<JournalEntry> {
    let machine = MachineSettings {
        trigger: TriggerKind::Flow,
        threshold: Some(Threshold::new(Flow::from_milli(3_333).value).unwrap()),
        set_rate: Some(Rate::from_int(30)),
        peak: Some(Pressure::from_milli(16_500).value),
        support_peak: None,
    };
    let at = Instant::from_us(u64::MAX / 3);
    let alarm = AlarmEvent {
        at,
        condition: Condition::Low(Measure::Volume(BreathKind::Supported)),
        priority: Priority::Medium,
        change: Change::On,
        value: Some(AlarmValue::Volume(Volume::from_milli(-1).value)),
    };
    let signs = LoadSigns::PAUSES.with(LoadSigns::MISSED);
    [
        EventKind::WeanStep(machine),
        EventKind::SettingsChanged(MachineSettings {
            trigger: TriggerKind::Pressure,
            ..MachineSettings::default()
        }),
        EventKind::Alarm(alarm),
        EventKind::Load(LoadVerdict::StepBack(signs)),
        EventKind::Load(LoadVerdict::CannotTell(NoVerdict::SelfCycling)),
        EventKind::Load(LoadVerdict::NoSign),
    ]
    .into_iter()
    .zip(7..)
    .map(|(what, number)| JournalEntry { number, event: Event { at, what } })
    .collect()
}

#[test]
fn entries_come_back_the_same() {
    for entry in entries() {
        let text = serde_json::to_string(&entry).unwrap();
        assert_eq!(serde_json::from_str::<JournalEntry>(&text).unwrap(), entry, "{text}");
    }
    // Quantities are raw bits: 30/min = 30 × 65 536.
    let text = serde_json::to_string(&entries()[0]).unwrap();
    assert!(text.contains("\"set_rate\":1966080"), "{text}");
}

#[test]
fn a_threshold_that_no_machine_has_is_refused() {
    let text = serde_json::to_string(&entries()[0]).unwrap();
    // 3.333 mL/s = 218 431 steps; none and below none are no thresholds.
    assert!(text.contains("\"threshold\":218431"), "{text}");
    for wrong in ["0", "-218431"] {
        let text = text.replace("218431", wrong);
        let error = serde_json::from_str::<JournalEntry>(&text).unwrap_err();
        assert!(error.to_string().contains("threshold"), "{error}");
    }
}

/// Two minutes of an infant: every report that says anything, with its breath or its events.
#[test]
fn reports_come_back_the_same() {
    let mut monitor = Monitor::new(settings());
    let (mut told, mut bytes) = (0, [0; 1_024]);
    for sample in recording(100, 120) {
        let report = monitor.push(sample);
        if report.is_silent() {
            continue;
        }
        told += usize::from(report.breath.is_some());
        let used = postcard::to_slice(&report, &mut bytes).unwrap();
        assert_eq!(postcard::from_bytes::<Report>(used).unwrap(), report);
        let text = serde_json::to_string(&report).unwrap();
        assert_eq!(serde_json::from_str::<Report>(&text).unwrap(), report, "{text}");
    }
    assert!(told > 70, "{told} breaths");
}

#[test]
fn signs_that_are_none_are_refused() {
    let all = serde_json::to_string(&LoadSigns::PAUSES).unwrap();
    assert!(serde_json::from_str::<LoadSigns>(&all).is_ok());
    let error = serde_json::from_str::<LoadSigns>("65535").unwrap_err().to_string();
    assert!(error.contains("a bit that no LoadSigns has"), "{error}");
}
