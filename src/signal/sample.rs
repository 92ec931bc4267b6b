//! One reading of the airway.

use crate::quantity::{Flow, Pressure, Tick};
use crate::record;

/// What the sensors say at one tick: the crate's front door on a microcontroller.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Sample {
    /// The free-running microsecond counter at the reading.
    pub tick: Tick,
    /// Flow at the airway opening, positive into the patient.
    pub flow: Flow,
    /// Airway pressure relative to ambient.
    pub pressure: Pressure,
}

record! {
    #[const_default]
    /// Flow and pressure without their time.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct Reading {
        /// Flow at the airway opening, positive into the patient.
        pub flow: Flow,
        /// Airway pressure relative to ambient.
        pub pressure: Pressure,
    }
}
