//! Compliance, elastance and resistance.

use super::unit::{
    CmH2OPerMl, CmH2OPerMlL, CmH2OSecondPerL, CmH2OSquareSecondPerSquareL, MlPerCmH2O,
};
use super::{Quantity, Share, Volume, arith};

/// Compliance in mL/cmH2O.
pub type Compliance = Quantity<MlPerCmH2O>;

/// Resistance in cmH2O·s/L (the same as cmH2O/(L/s)).
pub type Resistance = Quantity<CmH2OSecondPerL>;

/// Elastance in cmH2O/mL: one over compliance.
pub type Elastance = Quantity<CmH2OPerMl>;

/// How fast elastance grows with volume, in cmH2O/mL for each litre: cmH2O/(mL·L).
pub type Curvature = Quantity<CmH2OPerMlL>;

/// How fast resistance grows with flow: cmH2O/(L/s)².
pub(crate) type SquareResistance = Quantity<CmH2OSquareSecondPerSquareL>;

impl Elastance {
    /// E2·V ÷ (E1 + E2·V) for this E1, half away from zero; `None` where the sum is not above zero, or the share
    /// beyond its range. One wide divide.
    #[must_use]
    pub(crate) const fn bend_share(self, curvature: Curvature, volume: Volume) -> Option<Share> {
        match arith::bend_share(self.to_bits(), curvature.to_bits(), volume.to_bits()) {
            Some(share) if !share.saturated => Some(Share::from_bits(share.value)),
            _ => None,
        }
    }
}
