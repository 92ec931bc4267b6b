#![doc = include_str!("guide/crate.md")]
#![no_std]
#![forbid(unsafe_code)]

#[cfg(test)]
extern crate std;

#[cfg(feature = "embedded-hal")]
pub use embedded_hal;
pub use fixed;
pub use heapless;

pub mod alarm;
pub mod bedside;
pub mod breath;
#[cfg(any(doc, doctest))]
pub mod guide;
pub mod leak;
pub mod mechanics;
pub mod monitor;
pub mod quantity;
pub mod signal;
pub mod trend;
pub mod trigger;
pub mod volume;

#[cfg(doctest)]
#[doc = include_str!("../README.md")]
struct Readme;
