//! The tables that a recording comes to: what stands in which column, in which unit.

#[cfg(feature = "arrow")]
pub mod batch;
pub(crate) mod breaths;
pub(crate) mod column;
pub(crate) mod events;
pub(crate) mod minutes;
pub(crate) mod steps;
pub(crate) mod summary;
pub(crate) mod tabulate;
