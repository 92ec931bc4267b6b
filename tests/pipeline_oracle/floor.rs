//! The floor under the threshold, the check of the threshold, and the evidence of a cause.

use crate::fields::Fields;
use crate::oracle::Oracle;
use crate::set::Set;
use crate::shape::Shape;
use tidevane::monitor::BreathReport;

/// Leak, reach and spread of noise, and pressure.
#[derive(Debug, Clone, Copy)]
pub(crate) struct NoiseFloor {
    pub(crate) leak: f64,
    pub(crate) noise: Option<(f64, f64)>,
    pressure: f64,
}

/// Each trusted breath moves the floor a quarter of the way: by a quiet end of 150 ms, or by the
/// leak that is modelled at the baseline.
pub(crate) fn learn(oracle: &mut Oracle, shape: &Shape) {
    let long = shape.quiet.filter(|quiet| quiet.span >= 150_000.0);
    let now = match long {
        Some(q) => {
            let reach = (q.high - q.flow).max(q.flow - q.low);
            NoiseFloor { leak: q.flow, noise: Some((reach, q.spread)), pressure: q.pressure }
        }
        None => {
            if !oracle.leak.is_known() {
                return;
            }
            let leak = oracle.leak.at(shape.baseline);
            NoiseFloor { leak, noise: None, pressure: shape.baseline }
        }
    };
    let toward = |from: f64, to: f64| from + (to - from) / 4.0;
    oracle.floor = Some(match oracle.floor {
        None => now,
        Some(was) => NoiseFloor {
            leak: toward(was.leak, now.leak),
            noise: match (was.noise, now.noise) {
                (Some(a), Some(b)) => Some((toward(a.0, b.0), toward(a.1, b.1))),
                (a, b) => b.or(a),
            },
            pressure: now.pressure,
        },
    });
}

pub(crate) fn check(oracle: &Oracle, set: &Set, out: &mut Fields) {
    let mut put = |name: &str, value: f64| {
        out.insert(format!("trigger.{name}"), value);
    };
    put("threshold", set.threshold);
    let Some(floor) = oracle.floor else {
        return;
    };
    put("margin", set.threshold - floor.leak.max(0.0));
    put("floor.leak", floor.leak);
    put("floor.pressure", floor.pressure);
    if let Some((reach, spread)) = floor.noise {
        put("floor.noise.reach", reach);
        put("floor.noise.spread", spread);
        put("clearance", set.threshold - floor.leak.max(0.0) - reach);
    }
}

pub(crate) fn evidence(
    oracle: &mut Oracle,
    set: &Set,
    closed: &BreathReport,
    shape: &Shape,
    out: &mut Fields,
) {
    let onset = closed.breath.onset.to_us();
    let interval = oracle.last_inflation.map(|last| onset.saturating_sub(last));
    oracle.last_inflation = Some(onset);
    let risen = onset + shape.lead_us;
    let since_rise = oracle.last_rise.map(|last| risen.saturating_sub(last));
    oracle.last_rise = Some(risen);
    let (true, Some(floor)) = (closed.breath.is_trusted(), oracle.floor) else { return };
    let mut put = |name: &str, value: f64| {
        out.insert(format!("initiation.evidence.{name}"), value);
    };
    put("sensed", shape.lead_peak);
    put("deflection", (shape.lead_peak - floor.leak).max(0.0));
    put("lead", shape.lead_us as f64);
    put("leak", floor.leak);
    let (reach, spread) = floor.noise.unwrap_or_default();
    put("noise.reach", reach);
    put("noise.spread", spread);
    put("threshold", set.threshold);
    if let Some(interval) = interval {
        put("interval", interval as f64);
    }
    if let Some(interval) = since_rise {
        // On time is a period less a twentieth, or more; a rate of zero assures nothing.
        let period = 60e6 / set.rate;
        let on_time = interval as f64 >= period * 0.95;
        let close = (interval as f64 - period * 0.95).abs() < 5.0;
        let said = closed.initiation.and_then(|i| i.evidence).and_then(|e| e.on_time);
        assert!(
            close || said == (set.rate > 0.0).then_some(on_time),
            "on time {interval} us after the last rise, of {period}"
        );
    }
}
