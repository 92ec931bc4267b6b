//! How stiff the lung is, how hard it breathes through its tube, and how far it empties.

#[cfg(test)]
mod arith_tests;
mod bend;
mod bend_sums;
mod c20;
mod delayed;
mod emptying;
mod expected;
mod fit;
mod geometry;
mod jump;
mod no_fit;
mod passive;
mod sums;
mod tube;

pub(crate) use bend::BendCurve;
pub use bend::{NonlinearElastance, bend_share};
pub use c20::{C20OverC, NoC20, c20_level, c20_of_curve, c20_over_c};
pub use delayed::Delayed;
pub use emptying::{Emptying, SteadyState, exhaled_share, flow_cycle_time};
pub use expected::{compliance_by_gestation, compliance_by_length, compliance_by_weight};
pub use fit::{Fit, FitOutcome};
pub use geometry::{Narrowing, TubeGeometry};
pub use jump::{Jump, Jumps};
pub use no_fit::NoFit;
pub use passive::{Passivity, passivity};
pub use sums::FitSums;
pub use tube::{TubeLoss, TubeResistance};
