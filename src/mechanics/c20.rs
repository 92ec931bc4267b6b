//! Whether a loop bends at the top: overdistension.

use crate::quantity::Share;
use crate::record;
use core::fmt;

record! {
    /// Compliance over the last fifth of the pressure rise, over the whole compliance.
    ///
    /// It moves with resistive pressure and with the mode (Kano 1994, J Appl Physiol 77(3):1185): read
    /// it as a trend.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[must_use]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum C20OverC {
        /// The ratio.
        Known {
            /// C20/C, half away from zero.
            ratio: Share,
            /// Below 0.8, the warning level for overdistension (Fisher 1988, Pediatr Pulmonol 5:10-14,
            /// from memory).
            bends: bool,
        } = 0,
        /// It cannot be known.
        Unknown(NoC20) = 1,
    }
}

record! {
    /// Why C20/C cannot be known.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[non_exhaustive]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum NoC20 {
        /// The tidal volume is not above zero.
        NoVolume = 0,
        /// The volume at four fifths of the rise is below zero or above the tidal volume: not a rise
        /// from baseline to peak.
        NotRising = 1,
    }
}

impl fmt::Display for NoC20 {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::NoVolume => "no tidal volume",
            Self::NotRising => "the volume does not rise with the pressure",
        })
    }
}

const WARNING: Share = Share::from_percent(80);

/// C20/C of a fitted elastic curve from its [share of bend](super::bend_share), within 4·10⁻⁴. One
/// wide divide.
pub(crate) fn c20_of_curve(share: Share) -> C20OverC {
    share.c20_of_bend().map_or(C20OverC::Unknown(NoC20::NotRising), known)
}

fn known(ratio: Share) -> C20OverC {
    C20OverC::Known { ratio, bends: ratio < WARNING }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_curve_bends_as_its_share_says() {
        // Worked here: e = 0.5: 0.5·x + 0.5·x² = 0.8, x = (−0.5 + √1.85) ÷ 1 = 0.860147, C20/C =
        // 5 × 0.139853 = 0.69926. e = 0: a straight line, 1. e = −0.5: 1.5·x − 0.5·x² = 0.8,
        // x = 1.6 ÷ (1.5 + √0.65) = 0.693774, 1.53113: the lung opens up.
        for (e, want, warns) in [(50, 0.699_26, true), (0, 1.0, false), (-50, 1.531_13, false)] {
            let got = c20_of_curve(Share::from_percent(e));
            let C20OverC::Known { ratio, bends } = got else { panic!("{got:?}") };
            assert!((ratio.to_f64() - want).abs() < 4e-4, "{ratio}");
            assert_eq!(bends, warns);
        }
        assert_eq!(c20_of_curve(Share::from_percent(-100)), C20OverC::Unknown(NoC20::NotRising));
    }
}
