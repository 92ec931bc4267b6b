//! Hoses that yield: the pressure at the airway falls where gas is drawn.

use crate::check::within;
use crate::error::ScenarioError;

/// The hoses between the machine's valve and the sensor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SupplySettings {
    /// Resistance from the valve in cmH2O/(mL/s), 0.005 to 0.2.
    pub resistance: f64,
    /// Compliance of the hoses in mL/cmH2O, 0.1 to 20.
    pub compliance: f64,
}

impl SupplySettings {
    pub(crate) fn check(&self) -> Result<(), ScenarioError> {
        within("machine.supply.resistance", self.resistance, 0.005, 0.2)?;
        within("machine.supply.compliance", self.compliance, 0.1, 20.0)
    }
}

/// The pressure in the hoses.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Supply {
    settings: Option<SupplySettings>,
    pressure: f64,
}

impl Supply {
    pub(crate) fn new(settings: Option<SupplySettings>, rest: f64) -> Self {
        Self { settings, pressure: rest }
    }

    /// Pressure at the sensor in cmH2O after a step in which the valve stood at a pressure and a flow in mL/s
    /// went on to the sensor: Euler backwards, all but that flow. Without hoses it is the valve's.
    pub(crate) fn step(&mut self, dt: f64, valve: f64, flow: f64) -> f64 {
        let Some(hoses) = self.settings else { return valve };
        let part = dt / (hoses.resistance * hoses.compliance);
        self.pressure = (self.pressure + part * (valve - hoses.resistance * flow)) / (1.0 + part);
        self.pressure
    }

    /// The circuit is open: nothing is left of it.
    pub(crate) fn empty(&mut self) {
        self.pressure = 0.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drawn_flow_takes_pressure_by_a_time_constant() {
        // 0.05 × 20 mL/s = 1 cmH2O off 5; by 0.05 × 0.4 = 20 ms: after that 1 − e⁻¹ = 0.632 of it.
        let hoses = SupplySettings { resistance: 0.05, compliance: 0.4 };
        let mut supply = Supply::new(Some(hoses), 5.0);
        let after = |supply: &mut Supply, steps| {
            (0..steps).fold(0.0, |_, _| supply.step(0.000_5, 5.0, 20.0))
        };
        assert!((after(&mut supply, 40) - 4.368).abs() < 0.01);
        assert!((after(&mut supply, 1_000) - 4.0).abs() < 1e-6);
        supply.empty();
        assert!(supply.step(0.000_5, 5.0, 0.0) < 0.2);
        // bit for bit the valve's
        assert_eq!(Supply::new(None, 5.0).step(0.000_5, 7.3, 50.0).to_bits(), 7.3_f64.to_bits());
    }

    #[test]
    fn each_wrong_setting_is_named() {
        let named = |resistance, compliance| {
            SupplySettings { resistance, compliance }.check().map_err(|e| e.parameter)
        };
        assert_eq!(named(0.05, 0.4), Ok(()));
        assert_eq!(named(0.3, 0.4), Err("machine.supply.resistance"));
        assert_eq!(named(0.05, 0.05), Err("machine.supply.compliance"));
    }
}
