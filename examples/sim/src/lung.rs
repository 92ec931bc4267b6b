//! One or two compartments filled through tube and leak.

use crate::check::{positive, within};
use crate::error::{Problem, ScenarioError};
use crate::leak::{LeakModel, LeakSite};
use crate::schedule::Schedule;
use crate::suction::Catheter;
use crate::tube::{TubeSettings, flow_for};

/// Shortest time constant of a compartment, ms: one inner step, so that it never rings.
const LEAST_TIME_CONSTANT: f64 = 0.5;

/// A balloon behind a resistance; their product, the time constant, is at least 0.5 ms.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Compartment {
    /// Airway resistance in cmH2O/(L/s), above 0 to 1 000.
    pub resistance: f64,
    /// Compliance in mL/cmH2O, above 0 to 200.
    pub compliance: f64,
}

/// The lung: one compartment, or two side by side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LungSettings {
    /// The first compartment.
    pub main: Compartment,
    /// A second one in parallel.
    pub second: Option<Compartment>,
    /// Factor on every compliance over time, 0.05 to 20.
    pub compliance_factor: Schedule,
    /// Factor on every resistance over time, 0.05 to 20.
    pub resistance_factor: Schedule,
    /// Factor on every resistance while gas flows out, 0.2 to 5: braking, narrow airways.
    pub outward: f64,
    /// Elastance that yields, as a share of the lung's own, 0 to 1; and the time constant in s with which it
    /// does, 0.05 to 10.
    pub yielding: (f64, f64),
}

impl LungSettings {
    /// A lung of one compartment: resistance in cmH2O/(L/s), compliance in mL/cmH2O.
    #[must_use]
    pub fn single(resistance: f64, compliance: f64) -> Self {
        Self {
            main: Compartment { resistance, compliance },
            second: None,
            compliance_factor: Schedule::constant(1.0),
            resistance_factor: Schedule::constant(1.0),
            outward: 1.0,
            yielding: (0.0, 1.0),
        }
    }

    /// The least factor that ever lies on a resistance.
    fn widest(&self) -> f64 {
        least(&self.resistance_factor) * self.outward.min(1.0)
    }

    /// The most flow that ever goes in for a pressure without a tube, (mL/s)/cmH2O.
    pub(crate) fn conductance(&self) -> f64 {
        let parts = [Some(self.main), self.second].into_iter().flatten();
        parts.fold(0.0, |sum, part| sum + 1_000.0 / (part.resistance * self.widest()))
    }

    pub(crate) fn check(&self) -> Result<(), ScenarioError> {
        for part in [Some(self.main), self.second].into_iter().flatten() {
            positive("lung.resistance", part.resistance, 1_000.0)?;
            positive("lung.compliance", part.compliance, 200.0)?;
        }
        self.compliance_factor.check("lung.compliance_factor", 0.05, 20.0)?;
        self.resistance_factor.check("lung.resistance_factor", 0.05, 20.0)?;
        within("lung.outward", self.outward, 0.2, 5.0)?;
        within("lung.yielding", self.yielding.0, 0.0, 1.0)?;
        within("lung.yielding", self.yielding.1, 0.05, 10.0)?;
        let factor = least(&self.compliance_factor) * self.widest();
        for part in [Some(self.main), self.second].into_iter().flatten() {
            // cmH2O/(L/s) × mL/cmH2O = ms
            if part.resistance * part.compliance * factor < LEAST_TIME_CONSTANT {
                return Err(ScenarioError::new("lung.resistance", Problem::Contradiction));
            }
        }
        Ok(())
    }
}

/// The least value that a schedule takes.
fn least(schedule: &Schedule) -> f64 {
    schedule.values().fold(f64::INFINITY, f64::min)
}

impl Default for LungSettings {
    /// 60 cmH2O/(L/s) and 0.5 mL/cmH2O.
    fn default() -> Self {
        Self::single(60.0, 0.5)
    }
}

/// The pressures that move the gas, cmH2O.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Drive {
    pub(crate) airway: f64,
    pub(crate) muscle: f64,
}

/// The leak as it is now.
#[derive(Debug, Clone, Copy)]
pub(crate) struct LeakNow {
    pub(crate) model: LeakModel,
    pub(crate) site: LeakSite,
    pub(crate) size: f64,
}

/// Flows of one inner step, mL/s, and the power lost to resistance, cmH2O·mL/s.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Flows {
    pub(crate) lung: f64,
    pub(crate) leak: f64,
    pub(crate) loss: f64,
}

#[derive(Debug, Clone, Copy, Default)]
struct Part {
    /// cmH2O/(mL/s); zero marks a part that is not there.
    resistance: f64,
    compliance: f64,
    volume: f64,
    /// Pressure of the elastance that yields, cmH2O.
    yielding: f64,
}

/// The lung's state.
#[derive(Debug, Clone)]
pub(crate) struct Lung {
    parts: [Part; 2],
    tube: TubeSettings,
    outward: f64,
    yielding: (f64, f64),
    /// Flow through the tube and into the lung in the step before, mL/s.
    tube_flow: f64,
    lung_flow: f64,
    leaks: bool,
    catheter: Catheter,
}

impl Lung {
    /// At rest at the given pressure.
    pub(crate) fn new(
        settings: &LungSettings,
        tube: TubeSettings,
        leak: LeakModel,
        rest: f64,
    ) -> Self {
        let mut lung = Self {
            parts: [Part::default(); 2],
            tube,
            outward: settings.outward,
            yielding: settings.yielding,
            tube_flow: 0.0,
            lung_flow: 0.0,
            leaks: leak.is_open(false, rest),
            catheter: Catheter::NONE,
        };
        lung.refresh(settings, 0.0);
        for part in &mut lung.parts {
            part.volume = part.compliance * rest;
        }
        lung
    }

    /// Takes the factors of a time.
    pub(crate) fn refresh(&mut self, settings: &LungSettings, seconds: f64) {
        let stretch = settings.compliance_factor.at(seconds);
        let narrow = settings.resistance_factor.at(seconds);
        let given = [Some(settings.main), settings.second];
        for (part, given) in self.parts.iter_mut().zip(given) {
            if let Some(given) = given {
                part.resistance = given.resistance / 1_000.0 * narrow;
                part.compliance = given.compliance * stretch;
            }
        }
    }

    /// Takes the catheter of a time.
    pub(crate) fn suction(&mut self, catheter: Catheter) {
        self.catheter = catheter;
    }

    /// Whether gas is drawn out by a catheter.
    pub(crate) fn has_catheter(&self) -> bool {
        self.catheter.is_in()
    }

    /// Sum of compliances, mL/cmH2O.
    pub(crate) fn compliance(&self) -> f64 {
        self.parts.iter().fold(0.0, |c, part| c + part.compliance)
    }

    /// Moves on by `dt` seconds.
    ///
    /// The trapezoidal rule on each compartment: taking the elastic pressure at mid-step adds
    /// `dt ÷ 2C` to its resistance, which is second order and stable for every time constant.
    ///
    /// The gas in the tube resists a change of its flow: by Euler backwards, that is one more resistance and
    /// one more pressure.
    pub(crate) fn step(&mut self, dt: f64, drive: Drive, leak: LeakNow) -> Flows {
        let inertia = self.tube.inertance / dt;
        let (catheter, narrow) = (self.catheter, self.catheter.narrowing);
        let tube = TubeSettings {
            linear: self.tube.linear * narrow + inertia,
            square: self.tube.square * narrow,
            ..self.tube
        };
        let pushed = Drive { airway: drive.airway + inertia * self.tube_flow, ..drive };
        let leak = LeakNow { size: if self.leaks { leak.size } else { 0.0 }, ..leak };
        // Lung flow is conductance × tracheal pressure + pull.
        let (mut conductance, mut pull) = (0.0, 0.0);
        for part in self.parts.iter().filter(|p| p.resistance > 0.0) {
            let stiff = self.stiff(part, dt);
            conductance += 1.0 / stiff;
            pull += (drive.muscle - part.recoil()) / stiff;
        }
        // So is what goes into a catheter: all that leaves the trachea but the leak.
        conductance += catheter.conductance;
        pull += catheter.conductance * catheter.vacuum;
        let trachea = match leak.site {
            LeakSite::Trachea if leak.size > 0.0 => {
                trachea(tube, pushed, leak, (conductance, pull))
            }
            LeakSite::Trachea | LeakSite::Sensor => {
                let flow = flow_for(
                    conductance * pushed.airway + pull,
                    1.0 + conductance * tube.linear,
                    conductance * tube.square,
                );
                pushed.airway - tube.loss(flow)
            }
        };
        let mut flows = Flows::default();
        let (mut parts, (share, seconds)) = (self.parts, self.yielding);
        for part in parts.iter_mut().filter(|p| p.resistance > 0.0) {
            let flow = (trachea + drive.muscle - part.recoil()) / self.stiff(part, dt);
            part.volume += flow * dt;
            if share > 0.0 {
                part.yielding += (flow * share / part.compliance - part.yielding / seconds) * dt;
            }
            flows.lung += flow;
            flows.loss += self.resistance(part) * flow * flow;
        }
        self.parts = parts;
        let driving = match leak.site {
            LeakSite::Sensor => drive.airway,
            LeakSite::Trachea => trachea,
        };
        flows.leak = leak.model.flow(leak.size, driving);
        self.leaks = leak.model.is_open(self.leaks, driving);
        let drawn = catheter.flow(trachea);
        let through = drawn
            + match leak.site {
                LeakSite::Sensor => flows.lung,
                LeakSite::Trachea => flows.lung + flows.leak,
            };
        flows.leak += drawn;
        let lost = drive.airway - trachea - inertia * (through - self.tube_flow);
        flows.loss += lost * flows.lung;
        (self.tube_flow, self.lung_flow) = (through, flows.lung);
        flows
    }

    /// Resistance the way that the gas went last, cmH2O/(mL/s).
    fn resistance(&self, part: &Part) -> f64 {
        part.resistance * if self.lung_flow < 0.0 { self.outward } else { 1.0 }
    }

    fn stiff(&self, part: &Part, dt: f64) -> f64 {
        let yields = 1.0 + self.yielding.0;
        self.resistance(part) + 0.5 * dt / part.compliance * yields
    }
}

impl Part {
    /// Elastic pressure, cmH2O.
    fn recoil(&self) -> f64 {
        self.volume / self.compliance + self.yielding
    }
}

/// The tracheal pressure at which tube flow is lung flow plus leak, by false position: the
/// balance falls steadily with pressure and changes sign between the three pressures at which
/// tube, lung and leak are still.
fn trachea(
    tube: TubeSettings,
    drive: Drive,
    leak: LeakNow,
    (conductance, pull): (f64, f64),
) -> f64 {
    if tube.linear + tube.square <= 0.0 {
        return drive.airway;
    }
    let balance = |pressure: f64| {
        let flow = flow_for(drive.airway - pressure, tube.linear, tube.square);
        flow - conductance * pressure - pull - leak.model.flow(leak.size, pressure)
    };
    let still = -pull / conductance;
    let mut low = drive.airway.min(still).min(0.0);
    let mut high = drive.airway.max(still).max(0.0);
    let (mut at_low, mut at_high) = (balance(low), balance(high));
    for _ in 0..60 {
        if high - low < 1e-11 || at_low - at_high < 1e-11 {
            break;
        }
        let middle = low + (high - low) * at_low / (at_low - at_high);
        let at_middle = balance(middle);
        if at_middle.abs() < 1e-9 {
            return middle;
        }
        // The end that stays has its value halved, so that both ends close in.
        if at_middle > 0.0 {
            low = middle;
            at_low = at_middle;
            at_high *= 0.5;
        } else {
            high = middle;
            at_high = at_middle;
            at_low *= 0.5;
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn no_leak() -> LeakNow {
        LeakNow { model: LeakModel::Orifice, site: LeakSite::Sensor, size: 0.0 }
    }

    fn fill(lung: &mut Lung, seconds: f64, airway: f64) -> f64 {
        let dt = 0.000_5;
        let steps = (seconds / dt + 0.5) as u32;
        let mut volume = 0.0;
        for _ in 0..steps {
            volume += dt * lung.step(dt, Drive { airway, muscle: 0.0 }, no_leak()).lung;
        }
        volume
    }

    #[test]
    fn a_square_pressure_fills_as_the_closed_form_says() {
        // Textbook: C × ΔP × (1 − exp(−Ti/τ)); C 2, ΔP 10, τ 0.2, Ti 0.4 → 20 × (1 − e⁻²).
        let mut lung = Lung::new(
            &LungSettings::single(100.0, 2.0),
            TubeSettings::NONE,
            LeakModel::Orifice,
            5.0,
        );
        let volume = fill(&mut lung, 0.4, 15.0);
        assert!((volume - 17.293_294).abs() < 1e-4, "{volume}");
    }

    #[test]
    fn stiff_and_wide_lungs_stay_stable() {
        // Derived here: after 10 time constants all of C × ΔP is in, and never more.
        for (r, c) in [(20.0, 0.2), (200.0, 5.0), (5.0, 50.0), (10.0, 0.05)] {
            let mut lung =
                Lung::new(&LungSettings::single(r, c), TubeSettings::NONE, LeakModel::Orifice, 5.0);
            let volume = fill(&mut lung, 10.0 * r * c / 1_000.0 + 0.01, 15.0);
            assert!((volume / (10.0 * c) - 1.0).abs() < 1e-4, "{r} {c} {volume}");
        }
    }

    #[test]
    fn two_compartments_fill_each_by_its_own_time_constant() {
        // Without a tube they do not feel each other: 10 × (1 − e⁻²) + 5 × (1 − e⁻¹) with
        // C 1 and 0.5, τ 0.1 and 0.2, Ti 0.2, ΔP 10 → 8.646 647 + 3.160 603.
        let settings = LungSettings {
            second: Some(Compartment { resistance: 400.0, compliance: 0.5 }),
            ..LungSettings::single(100.0, 1.0)
        };
        let volume =
            fill(&mut Lung::new(&settings, TubeSettings::NONE, LeakModel::Orifice, 5.0), 0.2, 15.0);
        assert!((volume - 11.807_250).abs() < 1e-4, "{volume}");
    }

    #[test]
    fn an_elastance_that_yields_is_stiffer_at_first() {
        // Through 2 cmH2O/(L/s) into 2 mL/cmH2O, τ 4 ms: within 40 ms 10 cmH2O bring in 20 ÷ 1.25 mL and a
        // little more; after ten of its time constants all of 20.
        let settings = LungSettings { yielding: (0.25, 1.0), ..LungSettings::single(2.0, 2.0) };
        let lung = || Lung::new(&settings, TubeSettings::NONE, LeakModel::Orifice, 5.0);
        let (soon, late) = (fill(&mut lung(), 0.04, 15.0), fill(&mut lung(), 10.0, 15.0));
        assert!((16.0..16.3).contains(&soon), "{soon}");
        assert!((late - 20.0).abs() < 0.01, "{late}");
    }

    #[test]
    fn gas_with_mass_takes_time_to_flow() {
        // 10 cmH2O over 0.000 5 cmH2O/(mL/s²) and 0.1 cmH2O/(mL/s): toward 100 mL/s by a time constant of
        // 5 ms, 63 mL/s after that. The lung takes up less than 1 % of the pressure meanwhile.
        let tube = TubeSettings { linear: 0.05, square: 0.0, inertance: 0.000_5 };
        let settings = LungSettings::single(50.0, 50.0);
        let mut lung = Lung::new(&settings, tube, LeakModel::Orifice, 5.0);
        let drive = Drive { airway: 15.0, muscle: 0.0 };
        let flow = (0..500).fold(0.0, |_, _| lung.step(0.000_01, drive, no_leak()).lung);
        assert!((flow - 63.2).abs() < 0.5, "{flow}");
    }

    #[test]
    fn braking_lengthens_expiration_alone() {
        // τ 0.1 s in, 0.2 out: after 0.2 s of each 1 − e⁻² of 20 mL are in, and of those e⁻¹ are left.
        let settings = LungSettings { outward: 2.0, ..LungSettings::single(50.0, 2.0) };
        let mut lung = Lung::new(&settings, TubeSettings::NONE, LeakModel::Orifice, 5.0);
        let into = fill(&mut lung, 0.2, 15.0);
        let out = fill(&mut lung, 0.2, 5.0);
        assert!(
            (into - 17.293).abs() < 0.01 && (out + 17.293 * 0.632).abs() < 0.05,
            "{into} {out}"
        );
    }

    #[test]
    fn suction_balances_what_comes_through_a_narrowed_tube() {
        // At rest all tube flow goes into the catheter, 0.2 × (P + 100) at P = 0: 20 mL/s; through a tube of
        // thrice 0.025 × 20 + 0.0006 × 400 = 2.22 cmH2O. With a leak of √1 × 5 behind it at P = 1: 20.2 + 5 =
        // 25.2 mL/s, 1 + 3 × (0.63 + 0.381 024) = 4.033 072.
        let catheter = Catheter { conductance: 0.2, vacuum: 100.0, narrowing: 3.0 };
        for (rest, size, airway, drawn) in [(0.0, 0.0, 2.22, 20.0), (1.0, 5.0, 4.033_072, 25.2)] {
            let (settings, tube) = (LungSettings::default(), TubeSettings::default());
            let mut lung = Lung::new(&settings, tube, LeakModel::Orifice, rest);
            lung.suction(catheter);
            let leak = LeakNow { model: LeakModel::Orifice, site: LeakSite::Trachea, size };
            let flows = lung.step(0.000_5, Drive { airway, muscle: 0.0 }, leak);
            assert!((flows.leak - drawn).abs() < 1e-6 && flows.lung.abs() < 1e-6, "{flows:?}");
        }
    }

    #[test]
    fn a_tracheal_leak_balances_tube_lung_and_leak() {
        // Derived here: at rest all tube flow is leak, so airway = P + loss(k√P). With P = 4 and
        // k = 10: flow 20, loss 0.025 × 20 + 0.0006 × 400 = 0.74, airway 4.74.
        let tube = TubeSettings::default();
        let mut lung = Lung::new(&LungSettings::default(), tube, LeakModel::Orifice, 4.0);
        let leak = LeakNow { model: LeakModel::Orifice, site: LeakSite::Trachea, size: 10.0 };
        let flows = lung.step(0.000_5, Drive { airway: 4.74, muscle: 0.0 }, leak);
        assert!((flows.leak - 20.0).abs() < 1e-6 && flows.lung.abs() < 1e-6, "{flows:?}");
    }
}
