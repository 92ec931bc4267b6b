//! How stiff the lung is, how hard it breathes through its tube, and how far it empties.

#[cfg(test)]
mod arith_tests;
mod bend;
mod emptying;
mod expected;
mod fit;
mod geometry;
mod passive;
mod sums;
mod tube;

pub use bend::{Bend, bend_share};
pub use emptying::{Cycle, Emptying, exhaled_share, flow_cycle_time};
pub use expected::{compliance_by_gestation, compliance_by_length, compliance_by_weight};
pub use fit::{Fit, FitOutcome, NoFit};
pub use geometry::{Narrowing, TubeGeometry};
pub use passive::{C20OverC, NoC20, Passivity, c20_level, c20_of_curve, c20_over_c, passivity};
pub use sums::FitSums;
pub use tube::{Rohrer, TubeLoss};
