//! What users may rely on: sizes, markers, errors.

use tidevane::alarm::{Alarms, AlarmsState, Burden, LimitState, VolumeHistory};
use tidevane::breath::{Breath, SegmenterState};
use tidevane::leak::LeakPathState;
use tidevane::monitor::{JournalEntry, Monitor, Report, Settings};
use tidevane::quantity::{Flow, Mass, Problem, SettingError};
use tidevane::signal::GateState;
use tidevane::trend::{Tally, TrendState};
use tidevane::trigger::{NoiseFloor, NoiseFloorState};
use tidevane::volume::LimiterState;

fn can_be_sent<T: Send + Sync + Clone + core::fmt::Debug + 'static>() {}

#[test]
fn states_can_be_sent_cloned_and_printed() {
    can_be_sent::<Monitor>();
    can_be_sent::<Settings>();
    can_be_sent::<Report>();
    can_be_sent::<Breath>();
    can_be_sent::<SettingError>();
}

#[test]
fn states_stay_small() {
    let sizes = [
        ("Monitor", size_of::<Monitor>(), 7_424),
        ("TrendState", size_of::<TrendState>(), 408),
        ("Tally", size_of::<Tally>(), 60),
        ("SegmentState", size_of::<SegmenterState>(), 1_536),
        ("GateState", size_of::<GateState>(), 128),
        ("LeakPathState", size_of::<LeakPathState>(), 288),
        ("FloorState", size_of::<NoiseFloorState>(), 32),
        ("LimiterState", size_of::<LimiterState>(), 16),
        ("Breath", size_of::<Breath>(), 272),
        ("Report", size_of::<Report>(), 1_616),
        ("AlarmsState", size_of::<AlarmsState>(), 1_024),
        ("Alarms", size_of::<Alarms>(), 640),
        ("LimitState", size_of::<LimitState>(), 88),
        ("VolumeHistory", size_of::<VolumeHistory>(), 3_700),
        ("Burden", size_of::<Burden>(), 424),
        ("JournalEntry", size_of::<JournalEntry>(), 56),
    ];
    for (name, size, most) in sizes {
        println!("{name}: {size} bytes of {most}");
        assert!(size <= most, "{name} takes {size} bytes, more than {most}");
    }
}

#[test]
fn errors_name_the_parameter() {
    let error = Mass::from_grams(12).unwrap_err();
    assert_eq!(error, SettingError { parameter: "weight_g", problem: Problem::TooSmall });
    assert_eq!(error.to_string(), "weight_g is below the smallest allowed value");
    let as_error: &dyn core::error::Error = &error;
    assert!(as_error.source().is_none());
}

#[test]
fn quantities_print_with_their_unit() {
    assert_eq!(Flow::from_milli(12_345).value.to_string(), "12.35 mL/s");
    assert_eq!(format!("{:.0}", Flow::from_int(-7)), "-7 mL/s");
    assert_eq!(NoiseFloor::default().leak, Flow::ZERO);
}
