//! What drives a leak, and how well it conducts.

use super::Quantity;
use super::unit::{MlPerSCmH2O, MlPerSRootCmH2O, RootCmH2O};

/// Square root of a pressure in √cmH2O, with the pressure's sign: what drives a leak round a tube.
pub(crate) type RootPressure = Quantity<RootCmH2O>;

/// Flow past the lung for each cmH2O at the tip of the tube, in mL/s/cmH2O.
pub(crate) type Conductance = Quantity<MlPerSCmH2O>;

/// Flow past the lung for each root of the pressure at the tip of the tube, in mL/s/√cmH2O.
pub(crate) type RootConductance = Quantity<MlPerSRootCmH2O>;
