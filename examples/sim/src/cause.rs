//! What set an inflation off.

use crate::truth::Cause;

/// Muscle pressure from which the infant counts as active, cmH2O.
const ACTIVE: f64 = 0.01;

/// The parts of the flow that the machine sees, mL/s, and the muscle pressure, cmH2O.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Seen {
    pub(crate) lung: f64,
    pub(crate) leak: f64,
    pub(crate) ripple: f64,
    pub(crate) water: f64,
    pub(crate) muscle: f64,
    pub(crate) airway: f64,
}

impl Seen {
    /// All flow through the sensor.
    pub(crate) fn flow(&self) -> f64 {
        self.lung + self.leak + self.ripple + self.water
    }

    /// The cause of a trigger by this flow, of which the machine took `compensated` for leak.
    ///
    /// Flow into the lung that is enough by itself is the infant's, even where the muscle has just
    /// let go; so is any of an active infant, also one that lets go after it has pressed, where the
    /// rest would not have been enough. Otherwise the leak, if it is enough alone; otherwise the larger
    /// of ripple and water, without which nothing would have happened.
    pub(crate) fn cause(&self, threshold: f64, compensated: f64) -> Cause {
        let leak = self.leak - compensated;
        let active = self.muscle.abs() > ACTIVE && self.lung > 0.0;
        if self.lung >= threshold || (active && leak + self.ripple + self.water <= threshold) {
            Cause::Effort
        } else if leak > threshold {
            Cause::SelfLeak
        } else if self.water > self.ripple {
            Cause::SelfWater
        } else if self.ripple > 0.0 {
            Cause::SelfRipple
        } else {
            Cause::SelfLeak
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn causes_are_told_apart() {
        // Derived here: what would remain above a threshold of 3 mL/s without each part.
        let quiet = Seen::default();
        let cases = [
            (Seen { lung: 3.5, muscle: 1.0, ..quiet }, Cause::Effort),
            (Seen { lung: 3.5, ..quiet }, Cause::Effort),
            (Seen { lung: 2.0, leak: 2.0, muscle: 1.0, ..quiet }, Cause::Effort),
            (Seen { lung: 2.0, ripple: 2.0, muscle: -1.0, ..quiet }, Cause::Effort),
            (Seen { lung: 0.2, leak: 4.0, muscle: 0.3, ..quiet }, Cause::SelfLeak),
            (Seen { lung: -0.5, leak: 4.0, ..quiet }, Cause::SelfLeak),
            (Seen { leak: 2.0, ripple: 1.5, ..quiet }, Cause::SelfRipple),
            (Seen { leak: 1.0, ripple: 0.5, water: 2.0, ..quiet }, Cause::SelfWater),
        ];
        for (seen, cause) in cases {
            assert_eq!(seen.cause(3.0, 0.0), cause, "{seen:?}");
        }
        // a compensated leak is no longer enough alone
        let both = Seen { leak: 4.0, ripple: 1.5, ..quiet };
        assert_eq!(both.cause(3.0, 0.0), Cause::SelfLeak);
        assert_eq!(both.cause(3.0, 2.0), Cause::SelfRipple);
    }
}
