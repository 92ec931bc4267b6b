//! One reading of the airway, and the interval between two.

use crate::quantity::{Flow, Moment, Pressure, Span, Tick};
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
    /// Flow and pressure without their time.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct Reading {
        /// Flow at the airway opening, positive into the patient.
        pub flow: Flow,
        /// Airway pressure relative to ambient.
        pub pressure: Pressure,
    }
}

/// The interval between two accepted readings: what everything above integrates over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Step {
    /// When the later reading was taken.
    pub at: Moment,
    /// Time since the earlier reading; above zero.
    pub span: Span,
    /// The earlier reading.
    pub from: Reading,
    /// The later reading.
    pub to: Reading,
    /// What was wrong in this interval. With [`Flags::GAP`](super::Flags::GAP) set, nothing is
    /// known of the flow between the readings and nothing is integrated.
    pub flags: super::Flags,
}

impl Step {
    /// When the earlier reading was taken.
    #[must_use]
    pub const fn start(&self) -> Moment {
        Moment::from_us(self.at.to_us().saturating_sub(self.span.to_us()))
    }
}
