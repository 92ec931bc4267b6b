//! What tests, benches and fuzz targets share: properties that any input must hold, scenarios,
//! recordings, and the door from simulated samples to the core's readings.

pub mod curve;
pub mod digest;
pub mod fuzzed;
pub mod leaky;
pub mod lung;
pub mod parts;
pub mod paths;
pub mod recordings;
pub mod scenario;
pub mod seeds;
pub mod simulated;
pub mod tape;
pub mod units;
pub mod view;
pub mod wild;
