//! Seeded scenarios that cross what a bedside can bring.

use tidevane_sim::{
    Compartment, EffortSettings, LeakModel, LeakSettings, LeakSite, LungSettings, Pattern,
    Scenario, Schedule, SensorSettings, TubeSettings, VentilatorSettings,
};

/// What was drawn.
#[derive(Debug)]
pub struct Drawn {
    /// The scenario itself.
    pub scenario: Scenario,
    /// Its trigger threshold, mL/s.
    pub threshold: f64,
    /// Its set rate, per minute.
    pub set_rate: f64,
    /// All of it in one line.
    pub text: String,
}

/// A small generator of numbers between 0 and 1 (Marsaglia's xorshift, J Stat Softw 8:14, 2003).
struct Draw(u64);

impl Draw {
    fn unit(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[((self.unit() * from.len() as f64) as usize).min(from.len() - 1)]
    }
}

/// The scenario of a seed: leak 0 to 60 %, threshold 0.1 to 1 L/min, PEEP 3 to 8 cmH2O, rates 20 to
/// 80/min, ripple 0 to 3 mL/s at 2 to 3 Hz, noise, lag, 100 to 500 Hz, C 0.2 to 5 mL/cmH2O, R 20 to
/// 200 cmH2O/(L/s), one and two compartments, effort none, weak and strong.
pub fn drawn(seed: u64) -> Drawn {
    let mut draw = Draw((seed + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15));
    for _ in 0..4 {
        draw.unit();
    }
    let compliance = 0.2 * 25_f64.powf(draw.unit());
    let resistance = 20.0 * 10_f64.powf(draw.unit());
    let tau = (compliance * resistance / 1_000.0).max(0.012);
    let resistance = tau / compliance * 1_000.0;
    let two = draw.unit() < 0.3;
    let half =
        |r: f64| Compartment { resistance: 2.0 * resistance * r, compliance: compliance / 2.0 };
    let lung = if two {
        LungSettings { main: half(0.7), second: Some(half(1.3)), ..LungSettings::default() }
    } else {
        LungSettings::single(resistance, compliance)
    };
    let baseline = draw.between(3.0, 8.0);
    let rise = draw.between(8.0, 15.0);
    let ti = draw.between(0.28, 0.45);
    let set_rate = draw.between(20.0, 60.0);
    let effort_rate = draw.between(25.0, 75.0);
    let strength = draw.pick(&["none", "weak", "strong", "strong"]);
    let amplitude = match strength {
        "none" => 0.0,
        "weak" => draw.between(1.5, 2.5),
        _ => draw.between(4.0, 7.0),
    };
    let share = draw.pick(&[0.0, 0.1, 0.2, 0.3, 0.4, 0.6]) * draw.between(0.8, 1.0);
    let tidal = compliance * rise * (1.0 - (-ti / tau).exp());
    let rate = if strength == "none" { set_rate } else { set_rate.max(effort_rate) };
    let drive = baseline.sqrt() + ((baseline + rise).sqrt() - baseline.sqrt()) * ti * rate / 60.0;
    let leak = share / (1.0 - share) * tidal * rate / 60.0 / drive;
    let threshold = draw.between(0.1, 1.0) / 0.06;
    let ripple = draw.pick(&[0.0, 0.0, 1.0, 2.0, 3.0]);
    let pattern = draw.pick(&[Pattern::EveryBreath, Pattern::SetRate]);
    let pattern = if strength == "none" && draw.unit() < 0.3 { Pattern::Timed } else { pattern };
    let hertz = draw.pick(&[100_u32, 125, 200, 250, 500]);
    let text = format!(
        "C {compliance:.2} R {resistance:.0}{} PEEP {baseline:.1} rise {rise:.1} Ti {ti:.2} rate \
         {set_rate:.0} effort {strength} {amplitude:.1} at {effort_rate:.0} leak {share:.2} \
         threshold {threshold:.1} ripple {ripple:.0} {pattern:?} {hertz} Hz",
        if two { " (two)" } else { "" }
    );
    let scenario = Scenario {
        seed,
        period_us: 1_000_000 / hertz,
        lung,
        leak: LeakSettings { size: Schedule::constant(leak), ..LeakSettings::default() },
        effort: EffortSettings {
            rate: Schedule::constant(if amplitude > 0.0 { effort_rate } else { 0.0 }),
            amplitude: Schedule::constant(amplitude),
            ..EffortSettings::default()
        },
        machine: VentilatorSettings {
            pattern: Schedule::constant(pattern),
            baseline: Schedule::constant(baseline),
            peak: Schedule::constant(baseline + rise),
            inspiratory_time: ti,
            set_rate: Schedule::constant(set_rate),
            threshold: Schedule::constant(threshold),
            ..VentilatorSettings::default()
        },
        sensor: SensorSettings {
            ripple: Schedule::constant(ripple),
            ripple_rate: draw.between(2.0, 3.0),
            flow_noise: draw.between(0.1, 0.6),
            pressure_noise: draw.between(0.02, 0.1),
            flow_lag: draw.between(0.0, 8.0),
            pressure_lag: draw.between(0.0, 8.0),
            ..SensorSettings::default()
        },
        ..Scenario::default()
    };
    Drawn { scenario, threshold, set_rate, text }
}

/// The same infant under other physics: a valve that overshoots, gas with mass, a lung that yields, another
/// resistance outward, a leak behind the tube that is straight, a root, or snaps open under the inflation,
/// mostly a machine that takes its leak off, a flow that lags alone, a gain off by up to 1 %.
pub fn elsewhere(seed: u64) -> Drawn {
    let mut drawn = drawn(seed);
    let mut draw = Draw((seed + 1).wrapping_mul(0xD1B5_4A32_D192_ED03));
    for _ in 0..4 {
        draw.unit();
    }
    let Scenario { lung, tube, leak, machine, sensor, .. } = &mut drawn.scenario;
    let (baseline, peak) = (machine.baseline.at(0.0), machine.peak.at(0.0));
    machine.ringing = Some((draw.between(6.0, 15.0), draw.between(0.5, 0.9)));
    machine.leak_compensation = draw.pick(&[0.0, 0.9, 1.0]);
    tube.inertance = draw.between(0.000_1, 0.000_4);
    lung.yielding = (draw.between(0.0, 0.25), draw.between(0.3, 1.0));
    lung.outward = draw.between(0.8, 2.0);
    // As much gas is lost as through the other leak.
    let part = machine.inspiratory_time * drawn.set_rate / 60.0;
    let mean = |of: &dyn Fn(f64) -> f64| of(baseline) + (of(peak) - of(baseline)) * part;
    let lost = leak.size.at(0.0) * mean(&f64::sqrt);
    let snaps = LeakModel::Snaps(baseline + 3.0, baseline + 1.0);
    let model = draw.pick(&[LeakModel::Orifice, LeakModel::Laminar, snaps]);
    let drive = match model {
        LeakModel::Orifice | LeakModel::OpensAbove(_) => mean(&f64::sqrt),
        LeakModel::Laminar => mean(&|p| p),
        LeakModel::Snaps(_, shuts) => mean(&|p| (p - shuts).max(0.0).sqrt()),
    };
    *leak = LeakSettings {
        model,
        site: LeakSite::Trachea,
        size: Schedule::constant((lost / drive).min(50.0)),
        position: None,
    };
    sensor.flow_lag = draw.between(0.0, 15.0);
    sensor.pressure_lag = 0.0;
    sensor.gain = draw.between(0.99, 1.01);
    drawn.text = format!(
        "{} {model:?} inertance {:.1}e-4 yields {:.2} outward {:.1} lag {:.0}",
        drawn.text,
        tube.inertance * 1e4,
        lung.yielding.0,
        lung.outward,
        sensor.flow_lag
    );
    drawn
}

/// A passive infant under a timer, without tube and leak: compliance in mL/cmH2O, resistance in
/// cmH2O/(L/s).
pub fn passive(seed: u64, c: f64, r: f64, sensor: SensorSettings) -> Scenario {
    Scenario {
        seed,
        smallest_breath: 0.1,
        lung: LungSettings::single(r, c),
        tube: TubeSettings::NONE,
        effort: EffortSettings { rate: Schedule::constant(0.0), ..EffortSettings::default() },
        machine: VentilatorSettings {
            pattern: Schedule::constant(Pattern::Timed),
            ..VentilatorSettings::default()
        },
        sensor,
        ..Scenario::default()
    }
}
