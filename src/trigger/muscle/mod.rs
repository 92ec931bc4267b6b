//! The muscle pressure that the equation of motion leaves over, and the efforts that it shows.
//!
//! What flow, volume and pressure do in this infant's inflations is learned breath by breath as
//! P = R·Q + J·Q' + E·V + P0, where J takes the lag of flow behind pressure, and inertance. What
//! R·Q + J·Q' + E·V then has more than the pressure is the infant's own muscle (equation of motion: Chatburn 2014, Respir Care
//! 59(4):e61). Water in the line and bubbling move pressure and flow together and leave nothing over; a
//! heartbeat does leave something, less and for shorter than an effort.
//!
//! Its size is no measurement: what an infant does alike in every inflation is learned as lung in part, and a
//! quarter to all of the true pressure is left over (`tests/muscle.rs`). All times and limits in this room
//! were chosen on simulated infants; none has a published source.

mod block;
mod expiration;
mod inflation;
mod motion;
#[cfg(test)]
mod tests;
mod usual;
mod watch;

pub use watch::{Effort, EffortContext, EffortState, EffortWatch, Pull, SeenEffort};
