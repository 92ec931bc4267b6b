//! Alarm limits, conditions and how they are shown: advice beside the machine's own alarms.
//!
//! Nothing here replaces the alarms of the machine or of a patient monitor. The room imports
//! [`quantity`](crate::quantity) and [`breath`](crate::breath) only.

mod active_set;
mod advice;
#[cfg(feature = "embedded-hal")]
mod annunciator;
mod apnoea;
mod burden;
mod condition;
mod condition_timer;
mod disconnection;
mod event;
mod history;
mod limits;
mod priorities;
mod priority;
mod sensor;
mod settings;
#[cfg(feature = "embedded-hal")]
mod sound;
mod state;
mod vital_signs;

pub use advice::{Level, LevelAdvice, LevelBy, NoLevel, Rehearsal};
#[cfg(feature = "embedded-hal")]
pub use annunciator::{AlarmLamp, AlarmSounder};
pub use apnoea::{Apnoea, ApnoeaState};
pub use burden::Burden;
pub use condition::{BreathKind, Condition, Measure};
pub use condition_timer::Change;
pub use disconnection::{Disconnection, DisconnectionState};
pub use event::{AlarmEvent, AlarmValue, BreathView};
pub use history::VolumeHistory;
pub use limits::{Changes, LimitAlarm, LimitState, Limits, Measured};
pub use priorities::Priorities;
pub use priority::Priority;
pub use sensor::SensorAlarm;
pub use settings::Alarms;
pub use state::{AlarmEvents, AlarmsState};
pub use vital_signs::{ShortApnoea, VitalSigns};
