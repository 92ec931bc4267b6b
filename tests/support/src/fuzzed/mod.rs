//! Properties that every input must hold, each over raw bytes: the fuzz targets give it any, the
//! tests the named seeds.

mod account;
pub mod alarm;
mod arguments;
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
pub mod settings;
pub mod setup;
mod shifted;
pub mod stream;
pub mod trend;
pub mod trigger;
mod words;
