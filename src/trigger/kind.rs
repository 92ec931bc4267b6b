//! What the machine's trigger watches.

use crate::record;
use core::fmt;

record! {
    #[const_default(Flow)]
    /// What the machine's trigger watches. A threshold of flow can be checked against leak and ripple; with
    /// any other trigger the muscle pressure left over by the equation of motion tells who set an inflation
    /// off (1 cmH2O), beside the timer.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    #[non_exhaustive]
    pub enum TriggerKind {
        /// Flow at the airway above a threshold.
        Flow = 0,
        /// Airway pressure below the baseline.
        Pressure = 1,
        /// How fast flow or pressure changes.
        Slope = 2,
        /// Volume inspired.
        Volume = 3,
        /// A signal of the infant's own (the diaphragm, the abdomen), or not known.
        Other = 4,
    }
}

impl TriggerKind {
    /// One word.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Flow => "flow",
            Self::Pressure => "pressure",
            Self::Slope => "slope",
            Self::Volume => "volume",
            Self::Other => "other",
        }
    }

    /// All of them.
    pub const ALL: [Self; 5] = [Self::Flow, Self::Pressure, Self::Slope, Self::Volume, Self::Other];
}

impl fmt::Display for TriggerKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}
