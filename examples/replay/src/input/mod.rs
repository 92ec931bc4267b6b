//! Reads recordings.

pub(crate) mod arrow;
mod cells;
mod clock;
mod columns;
mod dates;
mod delimited;
mod edf;
mod guarded;
mod kind;
pub(crate) mod layout;
mod lines;
mod number;
pub(crate) mod recording;
pub(crate) mod rows;
mod unit;
mod wfdb;
