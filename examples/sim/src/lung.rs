//! One or two compartments filled through tube and leak.

use crate::check::positive;
use crate::error::{Problem, ScenarioError};
use crate::leak::{LeakModel, LeakSite};
use crate::schedule::Schedule;
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
        }
    }

    pub(crate) fn check(&self) -> Result<(), ScenarioError> {
        for part in [Some(self.main), self.second].into_iter().flatten() {
            positive("lung.resistance", part.resistance, 1_000.0)?;
            positive("lung.compliance", part.compliance, 200.0)?;
        }
        self.compliance_factor.check("lung.compliance_factor", 0.05, 20.0)?;
        self.resistance_factor.check("lung.resistance_factor", 0.05, 20.0)?;
        let least = |s: &Schedule| s.values().fold(f64::INFINITY, f64::min);
        let factor = least(&self.compliance_factor) * least(&self.resistance_factor);
        for part in [Some(self.main), self.second].into_iter().flatten() {
            // cmH2O/(L/s) × mL/cmH2O = ms
            if part.resistance * part.compliance * factor < LEAST_TIME_CONSTANT {
                return Err(ScenarioError::new("lung.resistance", Problem::Contradiction));
            }
        }
        Ok(())
    }
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
}

/// The lung's state.
#[derive(Debug, Clone)]
pub(crate) struct Lung {
    parts: [Part; 2],
    tube: TubeSettings,
}

impl Lung {
    /// At rest at the given pressure.
    pub(crate) fn new(settings: &LungSettings, tube: TubeSettings, rest: f64) -> Self {
        let mut lung = Self { parts: [Part::default(); 2], tube };
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

    /// Sum of compliances, mL/cmH2O.
    pub(crate) fn compliance(&self) -> f64 {
        self.parts.iter().fold(0.0, |c, part| c + part.compliance)
    }

    /// Moves on by `dt` seconds.
    ///
    /// The trapezoidal rule on each compartment: taking the elastic pressure at mid-step adds
    /// `dt ÷ 2C` to its resistance, which is second order and stable for every time constant.
    pub(crate) fn step(&mut self, dt: f64, drive: Drive, leak: LeakNow) -> Flows {
        // Lung flow is conductance × tracheal pressure + pull.
        let (mut conductance, mut pull) = (0.0, 0.0);
        for part in self.parts.iter().filter(|p| p.resistance > 0.0) {
            let stiff = part.resistance + 0.5 * dt / part.compliance;
            conductance += 1.0 / stiff;
            pull += (drive.muscle - part.volume / part.compliance) / stiff;
        }
        let trachea = match leak.site {
            LeakSite::Trachea if leak.size > 0.0 => self.trachea(drive, leak, conductance, pull),
            LeakSite::Trachea | LeakSite::Sensor => {
                let flow = flow_for(
                    conductance * drive.airway + pull,
                    1.0 + conductance * self.tube.linear,
                    conductance * self.tube.square,
                );
                drive.airway - self.tube.loss(flow)
            }
        };
        let mut flows = Flows::default();
        for part in self.parts.iter_mut().filter(|p| p.resistance > 0.0) {
            let stiff = part.resistance + 0.5 * dt / part.compliance;
            let flow = (trachea + drive.muscle - part.volume / part.compliance) / stiff;
            part.volume += flow * dt;
            flows.lung += flow;
            flows.loss += part.resistance * flow * flow;
        }
        flows.leak = leak.model.flow(
            leak.size,
            match leak.site {
                LeakSite::Sensor => drive.airway,
                LeakSite::Trachea => trachea,
            },
        );
        flows.loss += (drive.airway - trachea) * flows.lung;
        flows
    }

    /// The tracheal pressure at which tube flow is lung flow plus leak, by false position: the
    /// balance falls steadily with pressure and changes sign between the three pressures at which
    /// tube, lung and leak are still.
    fn trachea(&self, drive: Drive, leak: LeakNow, conductance: f64, pull: f64) -> f64 {
        if self.tube.linear + self.tube.square <= 0.0 {
            return drive.airway;
        }
        let balance = |pressure: f64| {
            let tube = flow_for(drive.airway - pressure, self.tube.linear, self.tube.square);
            tube - conductance * pressure - pull - leak.model.flow(leak.size, pressure)
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
        let mut lung = Lung::new(&LungSettings::single(100.0, 2.0), TubeSettings::NONE, 5.0);
        let volume = fill(&mut lung, 0.4, 15.0);
        assert!((volume - 17.293_294).abs() < 1e-4, "{volume}");
    }

    #[test]
    fn stiff_and_wide_lungs_stay_stable() {
        // Derived here: after 10 time constants all of C × ΔP is in, and never more.
        for (r, c) in [(20.0, 0.2), (200.0, 5.0), (5.0, 50.0), (10.0, 0.05)] {
            let mut lung = Lung::new(&LungSettings::single(r, c), TubeSettings::NONE, 5.0);
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
        let volume = fill(&mut Lung::new(&settings, TubeSettings::NONE, 5.0), 0.2, 15.0);
        assert!((volume - 11.807_250).abs() < 1e-4, "{volume}");
    }

    #[test]
    fn a_tracheal_leak_balances_tube_lung_and_leak() {
        // Derived here: at rest all tube flow is leak, so airway = P + loss(k√P). With P = 4 and
        // k = 10: flow 20, loss 0.025 × 20 + 0.0006 × 400 = 0.74, airway 4.74.
        let tube = TubeSettings::default();
        let mut lung = Lung::new(&LungSettings::default(), tube, 4.0);
        let leak = LeakNow { model: LeakModel::Orifice, site: LeakSite::Trachea, size: 10.0 };
        let flows = lung.step(0.000_5, Drive { airway: 4.74, muscle: 0.0 }, leak);
        assert!((flows.leak - 20.0).abs() < 1e-6 && flows.lung.abs() < 1e-6, "{flows:?}");
    }
}
