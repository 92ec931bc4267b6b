//! After an open circuit, a suction, or gas past the sensor of any flow, at any pressure and for any time,
//! breaths are found again within 5 s.

use tidevane::monitor::Settings;
use tidevane::quantity::{Flow, Mass, Pressure};
use tidevane::signal::Reading;
use tidevane_support::recordings::breaths;

/// A breath a second: half a sine of 0.3 s in and one out, quiet for the rest; 5 mL. In a while from 30.35 s on
/// a steady flow and pressure. Noise of 0.3 mL/s and 0.05 cmH2O either way, and a leak that follows √P.
fn recording(flow: f64, pressure: f64, lasts: f64, leak: f64) -> Vec<(u64, Reading)> {
    let mut seed = 1_u32;
    let mut noise = move || {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223); // from memory, any will do
        f64::from(seed >> 16) / 65_536.0 - 0.5
    };
    let at = |t: f64| {
        let x = t % 1.0;
        let sine = 26.18 * (std::f64::consts::PI * x / 0.3).sin();
        let (q, p) =
            if x < 0.6 { (sine, if x < 0.3 { 15.0 } else { 5.0 }) } else { (0.0, 5.0_f64) };
        let away = (30.35..30.35 + lasts).contains(&t);
        if away { (flow, pressure) } else { (q + leak * p.sqrt(), p) }
    };
    let bits = |x: f64| (x * 65_536.0) as i32;
    (0..(60 + lasts as u64) * 100)
        .map(|i| {
            let ((q, p), n) = (at(i as f64 / 100.0), noise());
            let flow = Flow::from_bits(bits(q + 0.6 * n));
            (i * 10_000, Reading { flow, pressure: Pressure::from_bits(bits(p + 0.1 * n)) })
        })
        .collect()
}

#[test]
fn breaths_are_found_again_within_five_seconds() {
    let weighed = Settings::builder().weight(Mass::from_grams(1_000).unwrap()).build().unwrap();
    for settings in [Settings::default(), weighed] {
        for flow in [-60.0, -40.0, 8.0, 15.0, 25.0, 40.0, 50.0, 70.0, 90.0] {
            for (pressure, lasts) in [(0.0, 6.0), (0.5, 3.0), (2.5, 15.0), (5.0, 6.0), (5.0, 40.0)]
            {
                for leak in [0.0, 0.5] {
                    let seen = breaths(settings, &recording(flow, pressure, lasts, leak));
                    let (from, until) = (35.35 + lasts, 59.0 + lasts);
                    let onsets = seen.iter().map(|b| b.breath.onset.to_us() as f64 / 1e6);
                    let found = onsets.filter(|at| (from..until).contains(at)).count();
                    // One at either end may fall out.
                    let truth = (until - from) as usize;
                    assert!(
                        found.abs_diff(truth) <= 1,
                        "{found} of {truth} after {flow} mL/s at {pressure} cmH2O for {lasts} s, leak {leak}"
                    );
                }
            }
        }
    }
}
