//! Pressure lost in the tracheal tube, and its inverse.

use crate::check::within;
use crate::error::ScenarioError;
use crate::root::root;

/// A tube whose pressure loss is `linear × Q + square × Q × |Q|`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TubeSettings {
    /// Linear part in cmH2O/(mL/s), 0 to 1.
    pub linear: f64,
    /// Square part in cmH2O/(mL/s)², 0 to 0.1.
    pub square: f64,
    /// Inertance of the gas in it in cmH2O/(mL/s²), 0 to 0.01.
    pub inertance: f64,
}

impl Default for TubeSettings {
    /// A narrow tube for a small infant: 0.025 and 0.0006, gas without mass.
    fn default() -> Self {
        Self { linear: 0.025, square: 0.0006, inertance: 0.0 }
    }
}

impl TubeSettings {
    /// No loss at all.
    pub const NONE: Self = Self { linear: 0.0, square: 0.0, inertance: 0.0 };

    pub(crate) fn check(&self) -> Result<(), ScenarioError> {
        within("tube.linear", self.linear, 0.0, 1.0)?;
        within("tube.square", self.square, 0.0, 0.1)?;
        within("tube.inertance", self.inertance, 0.0, 0.01)
    }

    /// Pressure lost at a flow, cmH2O.
    pub(crate) fn loss(&self, flow: f64) -> f64 {
        self.linear * flow + self.square * flow * flow.abs()
    }
}

/// The flow q for which `linear × q + square × q × |q|` is `drive`; both factors ≥ 0, not both 0.
pub(crate) fn flow_for(drive: f64, linear: f64, square: f64) -> f64 {
    // The stable form of the quadratic's solution: no difference of near numbers.
    let magnitude = drive.abs();
    let bottom = linear + root(linear * linear + 4.0 * square * magnitude);
    let flow = if bottom > 0.0 { 2.0 * magnitude / bottom } else { 0.0 };
    if drive < 0.0 { -flow } else { flow }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn flow_and_loss_are_each_others_inverse() {
        // Derived here: 0.025 × 50 + 0.0006 × 2500 = 2.75.
        let tube = TubeSettings::default();
        assert!((tube.loss(50.0) - 2.75).abs() < 1e-12);
        for q in [-80.0, -1.0, 0.0, 0.3, 50.0] {
            let back = flow_for(tube.loss(q), tube.linear, tube.square);
            assert!((back - q).abs() < 1e-9, "{q} {back}");
        }
        assert!((flow_for(3.0, 0.5, 0.0) - 6.0).abs() < 1e-12);
    }
}
