//! What drives a leak, and how well it conducts.

use super::newtype::quantity;

quantity! {
    /// What drives gas through a leak: √pressure for an orifice (√cmH2O), pressure for a laminar
    /// path (cmH2O). The unit is the leak law's.
    Drive, "(drive)"
}

quantity! {
    /// Flow through a leak per unit of [`Drive`]: mL/s per √cmH2O, or mL/s per cmH2O.
    Conductance, "mL/s per drive"
}
