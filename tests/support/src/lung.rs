//! A lung of one compartment under a timer: 40 inflations a minute of 0.4 s over 5 cmH2O.

use tidevane::monitor::{Event, Monitor};
use tidevane::quantity::{Flow, Instant, Pressure};
use tidevane::signal::Reading;

/// Compliance (mL/cmH2O), resistance (cmH2O·s/mL) and muscle pressure (cmH2O) at a time (s).
pub type Lung = (f64, f64, f64);

/// What a monitor tells of so many seconds, and when (s). 1 kHz inside, every fifth step is a reading.
pub fn ventilated(
    monitor: &mut Monitor,
    seconds: u64,
    rise: f64,
    lung: impl Fn(f64) -> Lung,
) -> Vec<(f64, Event)> {
    let (mut volume, mut pressure, mut out) = (0.0, 5.0, vec![]);
    for i in 0..seconds * 1_000 {
        let t = i as f64 / 1e3;
        let (compliance, resistance, muscle) = lung(t);
        let target = if t % 1.5 < 0.4 { 5.0 + rise } else { 5.0 };
        pressure += (target - pressure) * 1e-3 / 0.015;
        let flow = (pressure - 5.0 + muscle - volume / compliance) / resistance;
        volume += flow * 1e-3;
        if i % 5 != 0 {
            continue;
        }
        // No sensor repeats itself to the last bit.
        let bits = |x: f64| ((x + 0.01 * (i % 3) as f64) * 65_536.0) as i32;
        let (flow, pressure) = (Flow::from_bits(bits(flow)), Pressure::from_bits(bits(pressure)));
        let report = monitor.push_at(Instant::from_us(i * 1_000), Reading { flow, pressure });
        out.extend(report.events.iter().map(|event| (t, *event)));
    }
    out
}
