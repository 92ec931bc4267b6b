//! Compliance and resistance.

use super::newtype::quantity;

quantity! {
    /// Compliance in mL/cmH2O.
    Compliance, "mL/cmH2O"
}

quantity! {
    /// Resistance in cmH2O·s/L (the same as cmH2O/(L/s)).
    Resistance, "cmH2O*s/L"
}
