//! Reads recordings.

mod cells;
mod clock;
mod columns;
mod lines;
pub(crate) mod recording;
pub(crate) mod rows;
