//! How stiff the lung is, how hard it breathes through its tube, and how far it empties.

#[cfg(test)]
mod arith_tests;
mod bend;
mod bend_sums;
mod c20;
mod delayed;
mod emptying;
mod fit;
mod geometry;
mod jump;
mod no_fit;
mod passive;
mod sums;
mod tube;

pub(crate) use bend::BendCurve;
pub use bend::NonlinearElastance;
pub(crate) use c20::c20_of_curve;
pub use c20::{C20OverC, NoC20};
pub use delayed::Delayed;
pub use emptying::{Emptying, exhaled_share};
pub use fit::{Fit, FitOutcome};
pub use geometry::TubeGeometry;
pub use jump::{Jump, Jumps};
pub use no_fit::NoFit;
pub use passive::{Passivity, passivity};
pub use sums::FitSums;
pub use tube::TubeResistance;
