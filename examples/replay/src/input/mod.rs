//! Reads recordings.

#[cfg(feature = "arrow")]
pub(crate) mod arrow;
#[cfg(feature = "arrow")]
mod arrow_time;
mod beside;
mod calendar;
mod cells;
mod clock;
pub(crate) mod columns;
mod dates;
mod delimited;
mod edf;
mod guarded;
mod head;
mod header;
mod kind;
pub(crate) mod layout;
mod lines;
mod missing;
mod number;
pub(crate) mod recording;
pub(crate) mod rows;
pub(crate) mod start;
pub(crate) mod unit;
mod values;
mod wfdb;
