//! What is known of each breath and each effort.

/// What set an inflation off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Cause {
    /// The machine's clock.
    Timed,
    /// The infant's effort.
    Effort,
    /// Leak flow alone, with what a catheter drew, lay above the threshold: the machine set itself off.
    SelfLeak,
    /// The heartbeat's ripple was needed to pass the threshold.
    SelfRipple,
    /// Water moving in the circuit was needed to pass the threshold.
    SelfWater,
}

/// Who made the breath.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    /// A full inflation, with or without the infant's help.
    Inflation,
    /// The infant's own breath, with or without support pressure.
    Own,
}

/// One breath, known exactly. Volumes come from the true flows, before anything the sensor adds.
///
/// Times are µs from the start. Inspiration runs from onset to end of inspiration, expiration from there to the end; both are
/// crossings of the true lung flow. A volume is the signed integral over its phase.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TruthBreath {
    /// Lung flow turns inward.
    pub onset_us: u64,
    /// The machine began to raise the pressure, where it did.
    pub command_us: Option<u64>,
    /// Lung flow turns outward.
    pub end_inspiration_us: u64,
    /// The next breath's onset.
    pub end_us: u64,
    /// Who made the breath.
    pub kind: Kind,
    /// What set the machine off, where it acted.
    pub cause: Option<Cause>,
    /// Whether the machine gave support pressure to an own breath.
    pub supported: bool,
    /// Volume into the lung, mL.
    pub lung_inspired: f64,
    /// Volume out of the lung, mL.
    pub lung_expired: f64,
    /// Volume in through the sensor, mL.
    pub sensor_inspired: f64,
    /// Volume out through the sensor, mL; negative where leak outweighs expiration.
    pub sensor_expired: f64,
    /// All that went in through the sensor, also after the lung has turned, until flow first went out, mL.
    pub sensor_in: f64,
    /// What came back of that by the end, mL; before a pause of more than 2 s the most that had. Never
    /// below zero.
    pub sensor_out: f64,
    /// Volume lost from onset to end, mL: through the leak, into a catheter, and all that passed the sensor but
    /// did not enter the lung where the circuit is open toward the infant.
    pub leak: f64,
    /// Leak over inspired volume at the sensor; 0 where that is not above zero.
    pub leak_share: f64,
    /// Highest airway pressure, cmH2O.
    pub peak: f64,
    /// Lowest airway pressure, cmH2O.
    pub baseline: f64,
    /// Compliance of the whole lung, mL/cmH2O.
    pub compliance: f64,
    /// Resistance of tube and lung that loses the same energy over this inspiration, cmH2O/(L/s).
    pub resistance: f64,
    /// Whether a sensor fault (missing, stuck, clipped or water) fell into the breath.
    pub touched_by_fault: bool,
    /// Whether suction or an open circuit fell into the breath.
    pub handled: bool,
}

/// What became of an effort.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Outcome {
    /// It set off a full inflation.
    Triggered,
    /// It became an own breath, with or without support.
    OwnBreath,
    /// It fell into an inflation already running, or one that the machine set off by itself.
    DuringInflation,
    /// Nothing came of it.
    Missed,
    /// A timed inflation began during it.
    InTimedInflation,
}

/// One effort, known exactly. Times are µs from the start.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TruthEffort {
    /// Muscle pressure begins to rise.
    pub start_us: u64,
    /// Muscle pressure is largest.
    pub peak_us: u64,
    /// Muscle pressure is gone.
    pub end_us: u64,
    /// Largest muscle pressure, cmH2O.
    pub amplitude: f64,
    /// Whether it was a hiccup, not an effort to breathe.
    pub hiccup: bool,
    /// What became of it.
    pub outcome: Outcome,
}
