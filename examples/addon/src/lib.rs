//! What of the add-on runs anywhere: sensor, check, frames. The firmware around it is `main.rs`.
//!
//! Advisory only; not a medical device. Nothing here may act on a patient.
#![no_std]
#![forbid(unsafe_code)]

#[cfg(test)]
extern crate std;

pub mod check;
pub mod frame;
pub mod sensor;
pub mod settings;
