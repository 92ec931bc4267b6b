//! What the checks on a microcontroller share, and the host runs too: the same code on both sides.
#![no_std]

#[cfg(target_os = "none")]
pub mod board;
pub mod failures;
pub mod item;
pub mod records;
pub mod settings;
pub mod twin;
