//! Everything wired: one [`push`](Monitor::push) a sample.

mod answers;
mod breath_stage;
mod breaths;
mod closing;
mod event;
mod hearing;
mod journal;
mod kind;
#[cfg(feature = "embedded-hal")]
mod lamp;
#[cfg(test)]
mod learning_tests;
mod listeners;
mod machine;
mod minute;
#[expect(clippy::module_inception, reason = "the room is named for what it holds")]
mod monitor;
mod report;
mod sample_stage;
mod settings;
pub mod snapshot;

pub use answers::Breathing;
pub use breaths::Breaths;
pub use event::{Event, EventKind};
pub use journal::{Journal, JournalEntry};
#[cfg(feature = "embedded-hal")]
pub use lamp::AdviceLamp;
pub use machine::MachineSettings;
pub use monitor::Monitor;
pub use report::{BreathReport, Report};
pub use settings::{Settings, SettingsBuilder};

/// How many trusted breaths the leak share is taken over.
const LEAK_WINDOW: usize = 8;
