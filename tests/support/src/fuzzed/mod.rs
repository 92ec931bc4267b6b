//! Properties that every input must hold, each over raw bytes: the fuzz targets give it any, the
//! tests the named seeds.

mod account;
pub mod alarm;
mod alone;
mod arguments;
mod asked;
pub mod bedside;
mod bounds;
pub mod bytes;
pub mod csv;
pub mod file;
pub mod journal;
pub mod leak;
pub mod limiter;
mod made;
pub mod proposal;
mod refused;
pub mod samples;
mod setters;
pub mod settings;
pub mod setup;
mod shifted;
pub mod stream;
pub mod sums;
mod told;
pub mod trend;
pub mod trigger;
mod whole;
mod words;
