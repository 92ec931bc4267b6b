//! Numbers with units: the bottom room, which imports no other.
//!
//! Every quantity is a newtype over `fixed::types::I16F16` (sixteen integer and sixteen fraction
//! bits: ±32 768 in steps of 1/65 536). All raw arithmetic sits in [`arith`]; its page holds the
//! operator table. What can clamp returns [`Limited`], which remembers that it did.

pub mod arith;
pub(crate) mod bitset;
mod error;
mod flow;
mod leak;
mod limited;
mod lung;
mod mass;
mod newtype;
mod plain;
mod pressure;
mod rate;
mod record;
#[cfg(test)]
mod record_tests;
mod ring;
mod share;
mod term;
mod time;
mod volume;

pub(crate) use bitset::bitset;
pub use error::{Problem, SettingError};
pub use flow::Flow;
pub use leak::{Conductance, RootConductance, RootPressure};
pub use limited::Limited;
pub use lung::{Compliance, Curvature, Elastance, Resistance};
pub use mass::Mass;
pub use pressure::Pressure;
pub use rate::Rate;
pub use record::{Record, Sink, Source};
pub(crate) use ring::Ring;
pub use share::Share;
pub use term::Term;
pub use time::{Moment, Span, Tick};
pub use volume::{MinuteVolumePerKg, Volume};
