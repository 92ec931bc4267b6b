//! How far the counts can be relied on: what was found of what was true, in simulated recordings.
//!
//! `tests/accuracy` counts these anew and fails where they differ by more than half a percent. Each is the
//! lower of two: of the infants that no rule was tuned on, and of those under other physics, with flow
//! that comes up to 15 ms after pressure. They say what this crate finds in its own simulator; a patient is
//! not one.

use super::Cause;
use crate::quantity::Share;

/// Sensitivity and specificity of a count, as simulated: each the lower of two simulated worlds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct CountAccuracy {
    /// Of what was so, the share that was counted.
    pub sensitivity: Share,
    /// Of what was not, the share that was not counted.
    pub specificity: Share,
}

impl CountAccuracy {
    /// Efforts in expiration that set nothing off.
    pub const MISSED_IN_EXPIRATION: Self = of(526, 934);
    /// Efforts that came while an inflation ran.
    pub const MISSED_IN_INFLATION: Self = of(534, 934);

    /// Inflations of a cause; `None` for those of which it is not told.
    #[must_use]
    pub const fn of_cause(cause: Cause) -> Option<Self> {
        match cause {
            Cause::Timed => Some(of(903, 985)),
            Cause::Effort => Some(of(775, 940)),
            Cause::SelfLeak => Some(of(697, 930)),
            Cause::SelfRipple => Some(of(628, 981)),
            Cause::Unknown(_) => None,
        }
    }
}

const fn of(sensitivity: i32, specificity: i32) -> CountAccuracy {
    CountAccuracy {
        sensitivity: Share::from_milli(sensitivity).value,
        specificity: Share::from_milli(specificity).value,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trigger::NoCause;

    #[test]
    fn every_cause_that_is_told_has_its_accuracy() {
        let told = [Cause::Timed, Cause::Effort, Cause::SelfLeak, Cause::SelfRipple];
        let shares = told.map(|cause| CountAccuracy::of_cause(cause).map(|of| of.sensitivity));
        let milli = |x| Some(Share::from_milli(x).value);
        assert_eq!(shares, [milli(903), milli(775), milli(697), milli(628)]);
        assert_eq!(CountAccuracy::of_cause(Cause::Unknown(NoCause::NoFloor)), None);
    }
}
