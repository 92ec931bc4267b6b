//! Simulated lungs and machines: sampled airway flow and pressure with the exact truth beside them.
//!
//! A [`Scenario`] says everything about an infant, a tube, a leak, a machine and a sensor;
//! [`Simulator::new`] checks it and [`Simulator::step`] gives one sample after another, together
//! with each breath and each effort as it ends. Nothing here is a model of any real device or
//! person.
//!
//! | file | idea |
//! |---|---|
//! | `error` | what is wrong with a setting |
//! | `time` | seconds inside, microseconds outside |
//! | `scenario` | all settings together, and what is refused |
//! | `check` | the ranges by which settings are refused |
//! | `schedule` | values that change in steps, and windows of time |
//! | `noise` | numbers that look random and are not |
//! | `root` | the square root, bit for bit the same everywhere |
//! | `tube` | pressure lost in the tube, and its inverse |
//! | `leak` | flow lost past the tube |
//! | `position` | a leak that is another with the head turned |
//! | `opening` | a circuit that has come apart |
//! | `suction` | gas drawn out by a catheter through the tube |
//! | `lung` | one or two compartments filled through tube and leak |
//! | `effort` | the infant's own muscle pressure |
//! | `cry` | deep breaths in, long ones pressed out |
//! | `hiccup` | short, sudden pulls beside the infant's own rhythm |
//! | `machine` | settings of the machine |
//! | `adapting` | a peak pressure that follows a volume from breath to breath |
//! | `backup` | inflations by the clock while no trigger comes |
//! | `supply` | hoses that yield between the machine and the sensor |
//! | `trigger` | what the machine listens to |
//! | `control` | when the machine inflates, and with what pressure |
//! | `bubbles` | pressure that swings by gas bubbling through water |
//! | `cause` | what set an inflation off |
//! | `sensor` | what a sensor makes of the true flow and pressure |
//! | `truth` | what is known of each breath and effort |
//! | `ledger` | finds breaths in the true lung flow and keeps their accounts |
//! | `outcome` | what became of each effort |
//! | `simulator` | runs all of it |
//! | `demo` | a ready-made shift of an invented infant |
//!
//! The state is `f64` moved by `+`, `−`, `×` and `÷` alone, so a scenario gives the same bits on
//! every platform with IEEE arithmetic; the only approximations are the sines of effort and
//! heartbeat. The inner step is at most 0.5 ms whatever the sampling rate.
//!
//! ```
//! use tidevane_sim::{Scenario, Simulator};
//!
//! let mut run = Simulator::new(&Scenario::default())?;
//! let mut breaths = 0;
//! for _ in 0..6_000 {
//!     if run.step().breath.is_some() {
//!         breaths += 1;
//!     }
//! }
//! assert!(breaths > 30);
//! # Ok::<(), tidevane_sim::ScenarioError>(())
//! ```
#![no_std]
#![forbid(unsafe_code)]
#![expect(
    clippy::float_arithmetic,
    clippy::as_conversions,
    clippy::arithmetic_side_effects,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the simulator makes test signals; it is no part of the core"
)]

#[cfg(test)]
extern crate std;

mod adapting;
mod backup;
mod bubbles;
mod cause;
mod check;
mod control;
mod cry;
pub mod demo;
mod effort;
mod error;
mod hiccup;
mod leak;
mod ledger;
mod lung;
mod machine;
mod noise;
mod opening;
mod outcome;
mod position;
mod root;
mod scenario;
mod schedule;
mod sensor;
mod simulator;
mod suction;
mod supply;
#[cfg(test)]
mod tests;
mod time;
mod trigger;
mod truth;
mod tube;

pub use adapting::AdaptingSettings;
pub use backup::BackupSettings;
pub use cry::CrySettings;
pub use effort::EffortSettings;
pub use error::{Problem, ScenarioError};
pub use hiccup::HiccupSettings;
pub use leak::{LeakModel, LeakSettings, LeakSite};
pub use lung::{Compartment, LungSettings};
pub use machine::{Pattern, VentilatorSettings};
pub use opening::{OpenAt, OpeningSettings};
pub use position::PositionSettings;
pub use scenario::Scenario;
pub use schedule::{Schedule, Windows};
pub use sensor::{SensorSettings, SimSample};
pub use simulator::{Inside, Output, Simulator};
pub use suction::SuctionSettings;
pub use supply::SupplySettings;
pub use trigger::Trigger;
pub use truth::{Cause, Kind, Outcome, TruthBreath, TruthEffort};
pub use tube::TubeSettings;
