//! Writes files: whole or not at all, and never over what is read.

pub(crate) mod files;
mod format;
#[cfg(feature = "arrow")]
mod packed;
pub(crate) mod place;
pub(crate) mod same;
pub(crate) mod scratch;
pub(crate) mod sheet;
