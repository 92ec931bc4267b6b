//! Why a fit says nothing.

use crate::record;
use core::fmt;

record! {
    /// Why a breath gives no compliance and resistance.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[non_exhaustive]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum NoFit {
        /// Fewer samples than the settings ask for.
        TooFewSamples = 0,
        /// An own breath; or the infant took part in an inflation: effort before the pressure rose, a muscle pressure
        /// that rose, or an end by its own flow; or R² is below the limit, for a shape that the line does not explain.
        NotPassive = 1,
        /// Volume, flow or pressure stood still, or volume and flow moved as one: nothing tells V/C
        /// from R·Q.
        Degenerate = 2,
        /// The time constant is shorter than three samples: the trapezoidal rule then misses part of the
        /// volume, and R can be wrong by half with an R² that shows nothing.
        TooCoarse = 3,
        /// A sample beyond the bounds of the sums, or a result outside the range of lungs (C below
        /// 1/128 or above 200 mL/cmH2O, R below 0 or above 2 000 cmH2O·s/L).
        OutOfRange = 4,
        /// The breath, or an interval of it, carries a flag.
        Flagged = 5,
        /// The fit was not told to look for it.
        NotAsked = 6,
        /// The time constant is longer than what was seen: hardly any volume came back, and gas that leaks
        /// passes for compliance with an R² that shows nothing.
        TooSlow = 7,
    }
}

impl fmt::Display for NoFit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::TooFewSamples => "too few samples",
            Self::NotPassive => "the breath was not passive",
            Self::Degenerate => "volume and flow do not move apart",
            Self::TooCoarse => "the time constant is shorter than three samples",
            Self::OutOfRange => "outside the range of lungs",
            Self::Flagged => "the breath carries a flag",
            Self::NotAsked => "not asked for",
            Self::TooSlow => "the time constant is longer than the breath",
        })
    }
}
