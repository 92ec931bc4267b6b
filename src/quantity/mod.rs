//! Numbers with units: the bottom room, which imports no other.
//!
//! Every quantity is a [`Quantity`] of its unit over `fixed::types::I16F16` (sixteen integer and sixteen
//! fraction bits: ±32 768 in steps of 1/65 536). What needs another format has it in its type: `Magnitude`,
//! `Wide`, `Sum`, `Squares`, `Area`, `Slope`, `Weight`. All raw arithmetic sits in one private room, `arith`,
//! whose page holds the operator table. What can clamp returns [`Saturated`], which remembers that it did.

mod area;
pub(crate) mod arith;
pub(crate) mod bitset;
mod const_default;
mod error;
mod fixed_point;
mod flow;
mod leak;
mod limited;
mod lung;
mod magnitude;
mod mass;
mod motion;
mod plain;
mod pressure;
mod product;
mod rate;
mod record;
#[cfg(test)]
mod record_tests;
mod ring;
mod setting;
#[doc(hidden)]
pub mod shape;
mod share;
mod time;
mod tube;
mod typed;
pub mod unit;
mod volume;
mod weight;
mod wide;

pub(crate) use bitset::bitset;
#[doc(hidden)]
pub use const_default::ConstDefault;
pub(crate) use const_default::const_default;
pub use error::{Problem, SettingError};
pub(crate) use fixed_point::shown;
pub use fixed_point::{Quantity, Share};
pub use flow::Flow;
pub(crate) use leak::{Conductance, RootConductance, RootPressure};
pub use limited::Saturated;
pub(crate) use lung::SquareResistance;
pub use lung::{Compliance, Curvature, Elastance, Resistance};
pub use mass::Mass;
pub use pressure::Pressure;
pub(crate) use product::{Integrates, Times};
pub use rate::Rate;
pub use record::{Record, Sink, Source};
pub(crate) use ring::Ring;
pub(crate) use setting::setting;
pub use time::{Duration, Instant, Tick};
pub(crate) use tube::Rohrer;
pub(crate) use typed::{Area, Magnitude, Slope, Squares, Sum, Wide};
pub use volume::{MinuteVolumePerKg, Volume};
pub(crate) use weight::Weight;
