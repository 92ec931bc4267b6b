//! Compliance, elastance and resistance.

use super::Quantity;
use super::unit::{CmH2OPerMl, CmH2OPerMlL, CmH2OSecondPerL, MlPerCmH2O};

/// Compliance in mL/cmH2O.
pub type Compliance = Quantity<MlPerCmH2O>;

/// Resistance in cmH2O·s/L (the same as cmH2O/(L/s)).
pub type Resistance = Quantity<CmH2OSecondPerL>;

/// Elastance in cmH2O/mL: one over compliance.
pub type Elastance = Quantity<CmH2OPerMl>;

/// How fast elastance grows with volume, in cmH2O/mL for each litre: cmH2O/(mL·L).
pub type Curvature = Quantity<CmH2OPerMlL>;
