//! What drives a leak, and how well it conducts.

use super::newtype::quantity;

quantity! {
    /// Square root of a pressure in √cmH2O, with the pressure's sign: what drives a leak round a tube.
    RootPressure, "√cmH2O"
}

quantity! {
    /// Flow past the lung for each cmH2O at the tip of the tube, in mL/s/cmH2O.
    Conductance, "mL/s/cmH2O"
}

quantity! {
    /// Flow past the lung for each root of the pressure at the tip of the tube, in mL/s/√cmH2O.
    RootConductance, "mL/s/√cmH2O"
}
