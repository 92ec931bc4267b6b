//! A monitor made while compiling, and told its settings before it hears anything, is one made with them.

use std::sync::Mutex;
use tidevane::monitor::{Monitor, Settings};
use tidevane::quantity::Instant;
use tidevane_support::fuzzed::setup;

static MONITOR: Mutex<Monitor> = Mutex::new(Monitor::new(Settings::DEFAULT));

#[test]
fn one_in_a_static_is_set_up_in_its_place() {
    assert_eq!(Settings::DEFAULT, Settings::default());
    for number in 0..=255 {
        let settings = setup::setup(number).settings;
        let mut monitor = MONITOR.lock().unwrap();
        let _ = monitor.settings_changed(Instant::from_us(0), settings);
        assert!(*monitor == Monitor::new(settings), "setup {number}");
    }
}
