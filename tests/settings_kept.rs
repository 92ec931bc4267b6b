//! Settings that are kept as JSON or `postcard` come back the same, or are refused in the setter's words.
#![cfg(feature = "serde")]

use fixed::types::I16F16;
use serde_json::Value;
use tidevane::leak::{LeakPath, Tube};
use tidevane::mechanics::TubeResistance;
use tidevane::monitor::Settings;
use tidevane::quantity::{Mass, Resistance, Share};
use tidevane::trend::{LoadCriteria, Trend};
use tidevane_support::fuzzed::setup;

#[test]
fn every_setup_comes_back() {
    for number in 0..=255 {
        let settings = setup::setup(number).settings;
        let text = serde_json::to_string(&settings).unwrap();
        assert_eq!(serde_json::from_str::<Settings>(&text).unwrap(), settings, "setup {number}");
        let mut bytes = [0; 512];
        let used = postcard::to_slice(&settings, &mut bytes).unwrap();
        assert_eq!(postcard::from_bytes::<Settings>(used).unwrap(), settings, "setup {number}");
    }
}

/// The JSON of a full setup with one number changed, and what is said of it.
fn refused(path: &str, to: Value) -> String {
    let mut json = serde_json::to_value(setup::setup(4).settings).unwrap();
    let place = json.pointer_mut(path).unwrap_or_else(|| panic!("nothing at {path}"));
    *place = to;
    serde_json::from_value::<Settings>(json).unwrap_err().to_string()
}

#[test]
fn what_no_setter_takes_does_not_come_in() {
    for (path, to, said) in [
        ("/gate/cut", 1.into(), "cut is below the smallest allowed value"),
        ("/gate/flow_limit", (-1).into(), "flow_limit must be above zero"),
        ("/segment/min_volume", 0.into(), "min_volume is below the smallest allowed value"),
        ("/flow_offset", (51 * 65_536).into(), "flow_offset is above the largest allowed value"),
        ("/alarms/apnoea/after", 1.into(), "after is below the smallest allowed value"),
        ("/alarms/rate/hysteresis", (-1).into(), "hysteresis must not be negative"),
        ("/machine/set_rate", (151 * 65_536).into(), "set_rate is above the largest"),
        ("/weight/grams", 1.into(), "weight_g is below the smallest allowed value"),
        ("/limiter/limit", 0.into(), "limit must be above zero"),
        ("/proposal/pressure_step", 0.into(), "pressure_step is below the smallest allowed value"),
        ("/alarms/rate/limits/high", (-1).into(), "high must not be negative"),
        (
            "/load/weight",
            serde_json::json!({ "grams": 5_000 }),
            "weight contradicts another setting",
        ),
        ("/grid/count", 0.into(), "count must be above zero"),
        ("/load/sustain", 0.into(), "sustain must be above zero"),
        ("/load/change", 0.into(), "change is below the smallest allowed value"),
        ("/alarms/apnoea/short/after", 1.into(), "after is below the smallest allowed value"),
        ("/alarms/sensor/fault", 1.into(), "fault is below the smallest allowed value"),
        ("/layout", "Second".into(), "unknown variant `Second`"),
    ] {
        let got = refused(path, to);
        assert!(got.starts_with(said), "{path}: {got}, not {said}");
    }
}

/// What this layout's first bytes were, for every later one to read: a change that cannot is a new layout,
/// and reads both.
#[test]
fn the_first_layout_is_read() {
    let settings = setup::setup(4).settings;
    let mut bytes = [0; 512];
    let used = postcard::to_slice(&settings, &mut bytes).unwrap();
    let hex: String = used.iter().map(|byte| format!("{byte:02x}")).collect();
    assert_eq!(hex, FIRST, "a new layout? keep the old one readable");
    let first: Vec<u8> = (0..FIRST.len() / 2)
        .map(|place| u8::from_str_radix(&FIRST[2 * place..2 * place + 2], 16).unwrap())
        .collect();
    assert_eq!(postcard::from_bytes::<Settings>(&first).unwrap(), settings);
}

const FIRST: &str = "008080e0128080c00288278827d08603000080800880800280801080800801808030a09c01018080288080188080b00180801080800480ade2040180ade20450500180800400010180897a80ade204018080180180803000000101808020018080280000010180802001808048000001018080a006018080e012000001018080f001018080e003a0c21e8080080101808040018080900100000100019ab3020000010202010101010201010101010101000200000000000000000214e2f50701808008d6aa0dd6aa0d10010300cc9901020000000180801c018080c00201808080010180806001d407";

#[test]
fn parts_of_their_own_are_kept_with_and_without_a_weight() {
    let load = LoadCriteria::new(Share::from_percent(20), 4).unwrap();
    let trend = Trend::new(2, 5).unwrap();
    let tube = TubeResistance::new(Resistance::from_int(30), I16F16::from_num(250)).unwrap();
    let path = LeakPath::default().with_tube(Tube::Measured(tube));
    let free = Settings::builder().load(load).trend(trend).leak_path(path);
    let weighed = free.weight(Mass::from_grams(1_200).unwrap());
    for settings in [free.build().unwrap(), weighed.build().unwrap()] {
        let text = serde_json::to_string(&settings).unwrap();
        let back: Settings = serde_json::from_str(&text).unwrap();
        assert_eq!((back.load().sustain(), back.load().change()), (4, load.change()));
        assert_eq!((back.trend().settle_minutes(), back.trend().baseline_minutes()), (2, 5));
        assert_eq!(back.leak_path().tube(), Tube::Measured(tube));
        assert_eq!(back, settings);
    }
}
