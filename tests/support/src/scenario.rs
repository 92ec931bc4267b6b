//! Seeded scenarios that cross what a bedside can bring.

use std::fmt::Write;
use tidevane_sim::{
    AdaptingSettings, BackupSettings, Compartment, CrySettings, EffortSettings, HiccupSettings,
    LeakModel, LeakSettings, LeakSite, LungSettings, OpenAt, OpeningSettings, Pattern,
    PositionSettings, Scenario, Schedule, SensorSettings, SuctionSettings, SupplySettings, Trigger,
    TubeSettings, VentilatorSettings, Windows,
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

    fn one_in(&mut self, n: f64) -> bool {
        self.unit() * n < 1.0
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
/// mostly a machine that takes its leak off, a flow that lags alone, a gain off by up to 1 %; and now and then
/// what [`now_and_then`] draws.
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
    now_and_then(&mut drawn, &mut draw);
    drawn
}

/// A head that turns, a trigger by pressure behind hoses, a peak that follows a volume, a pause with a backup
/// rate, hiccups, crying, suction and a circuit that comes apart: each in one of four to eight. Sizes are those of
/// a small infant; of triggers by pressure texts have 0.3 to 1 cmH2O; the rest is chosen here, no source.
fn now_and_then(drawn: &mut Drawn, draw: &mut Draw) {
    let Drawn { scenario, text, set_rate, .. } = drawn;
    let Scenario { lung, leak, effort, machine, suction, opening, .. } = scenario;
    let breathes = effort.amplitude.at(0.0) > 0.0;
    let mut say = |words: &str| write!(text, " {words}").expect("a string takes all");
    if draw.one_in(4.0) && leak.size.at(0.0) > 0.0 {
        leak.position = Some(PositionSettings {
            factor: draw.between(0.3, 1.7),
            stays: draw.between(15.0, 40.0),
            takes: draw.between(0.3, 2.0),
        });
        say("turns");
    }
    if draw.one_in(4.0) {
        let (resistance, compliance) = (draw.between(0.02, 0.05), draw.between(0.3, 0.8));
        machine.supply = Some(SupplySettings { resistance, compliance });
        machine.trigger = Trigger::Pressure(draw.between(0.3, 1.0));
        say("by pressure");
    }
    if draw.one_in(4.0) {
        let compliance = lung.main.compliance + lung.second.map_or(0.0, |part| part.compliance);
        let tau = lung.main.resistance * lung.main.compliance / 1_000.0;
        let rise = machine.peak.at(0.0) - machine.baseline.at(0.0);
        let most = compliance * rise * (1.0 - (-machine.inspiratory_time / tau).exp());
        machine.adapting = Some(AdaptingSettings {
            volume: most * draw.between(0.5, 0.95),
            step: draw.between(1.0, 3.0),
            least: 4.0,
        });
        say("adapts");
    }
    if draw.one_in(4.0) && breathes {
        // Own breaths with support alone; the one rate that is set is the one behind them.
        let rate = draw.between(25.0, 45.0);
        let rise = machine.peak.at(0.0) - machine.baseline.at(0.0);
        machine.pattern = Schedule::constant(Pattern::SetRate);
        machine.set_rate = Schedule::constant(0.0);
        machine.support = Schedule::constant(rise * draw.between(0.6, 1.0));
        machine.backup = Some(BackupSettings { after: draw.between(4.0, 8.0), rate });
        effort.apnoea = Windows::none().and(20.0, 20.0 + draw.between(8.0, 18.0));
        *set_rate = rate;
        say("pauses");
    }
    if draw.one_in(6.0) && breathes {
        effort.hiccup = Some(HiccupSettings {
            when: Windows::none().and(15.0, 45.0),
            rate: draw.between(6.0, 20.0),
            amplitude: draw.between(5.0, 12.0),
            duration: draw.between(0.08, 0.15),
        });
        say("hiccups");
    }
    if draw.one_in(6.0) && breathes {
        effort.cry = Some(CrySettings {
            when: Windows::none().and(40.0, 52.0),
            depth: draw.between(1.2, 2.0),
            press: draw.between(4.0, 12.0),
            duration: draw.between(0.3, 0.8),
        });
        say("cries");
    }
    if draw.one_in(8.0) {
        *suction = Some(SuctionSettings {
            when: Windows::none().and(55.0, 55.0 + draw.between(3.0, 6.0)),
            vacuum: draw.between(109.0, 136.0),
            flow: draw.between(20.0, 60.0),
            narrowing: draw.between(2.0, 5.0),
        });
        say("suction");
    }
    if draw.one_in(8.0) {
        let when = Windows::none().and(35.0, 35.0 + draw.between(2.0, 6.0));
        let at = draw.pick(&[OpenAt::Machine, OpenAt::Infant]);
        *opening = Some(OpeningSettings { when, at });
        say("open");
    }
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
