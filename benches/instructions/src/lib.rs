//! What the instructions are counted over.

use tidevane::mechanics::FitSums;
use tidevane::monitor::Monitor;
use tidevane::quantity::Duration;
use tidevane::signal::Sample;
use tidevane_support::curve::Curve;
use tidevane_support::leaky::{recording, settings};

/// Ten seconds at 100 Hz after half a minute of learning.
#[must_use]
pub fn learned() -> (Monitor, Vec<Sample>) {
    let mut samples = recording(100, 40);
    let last = samples.split_off(3_000);
    let mut monitor = Monitor::new(settings());
    for sample in samples {
        let _ = monitor.push(sample);
    }
    (monitor, last)
}

/// The sums of two seconds at 100 Hz.
#[must_use]
pub fn sums() -> FitSums {
    let mut curve = Curve::default();
    for s in recording(100, 2) {
        curve.add(Duration::from_millis(10), s.flow, s.pressure);
    }
    curve.sums
}
