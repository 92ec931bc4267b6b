//! What was wrong, as a small set.

use crate::quantity::bitset;
use core::fmt;

bitset! {
    /// A set of remarks on an interval or a breath. A breath with any remark is reported, but feeds no
    /// window, fit or advice. The one exception: what the leak's own learners remark on
    /// ([`UNSETTLED`](Self::UNSETTLED), [`ZERO_DRIFT`](Self::ZERO_DRIFT)) does not keep them from
    /// learning, or they would never get over it.
    pub struct Flags(u16) {
        /// Samples were missing for longer than the gap limit.
        GAP = 0: "gap";
        /// A reading lay outside the sensor's stated range and was refused.
        OUT_OF_RANGE = 1: "out-of-range";
        /// A reading came with a time not after the one before it and was refused.
        DISORDER = 2: "disorder";
        /// The readings did not change when a live sensor's would.
        STUCK = 3: "stuck";
        /// The flow sat at one extreme value, as a sensor at the end of its range does.
        CLIPPED = 4: "clipped";
        /// A number reached the end of its range and was clamped.
        SATURATED = 5: "saturated";
        /// The recording began inside this breath, or with it: nothing is known of what came before.
        BEGUN_BEFORE = 6: "begun-before";
        /// The breath was cut short by a long gap or by the end of the recording.
        CUT = 7: "cut";
        /// Noise in the quiet flow far beyond the usual, as water in the line makes.
        NOISY = 8: "noisy";
        /// The flow sensor's zero has drifted.
        ZERO_DRIFT = 9: "zero-drift";
        /// This breath, or the one before it, was cut out with a leak estimate that proved wrong.
        UNSETTLED = 10: "unsettled";
        /// Numbers that no breath has: see [`Implausible`](crate::breath::Implausible).
        IMPLAUSIBLE = 11: "implausible";
        /// The circuit stood open, or suction drew: see `open-circuit` among the [events](crate::monitor::EventKind).
        OPEN = 12: "open";
    }
}

impl Flags {
    /// Remarks under which what was cut out may be no breath at all.
    pub(crate) const NO_BREATH: Self =
        Self::NOISY.with(Self::CUT).with(Self::STUCK).with(Self::IMPLAUSIBLE).with(Self::OPEN);

    /// Those of these that are not in the other set.
    #[must_use]
    pub(crate) const fn but(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }

    /// Remarks on the measurement: what was measured cannot be relied on, and teaches nobody.
    pub(crate) const MEASUREMENT: Self = Self(!Self::ZERO_DRIFT.with(Self::UNSETTLED).0);
}

impl fmt::Display for Flags {
    /// The names, joined by `;`. Empty where there is nothing to remark.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut separator = "";
        for name in self.names() {
            write!(f, "{separator}{name}")?;
            separator = ";";
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::string::ToString;

    #[test]
    fn prints_each_remark_once() {
        let both = Flags::STUCK.with(Flags::GAP).with(Flags::GAP);
        assert_eq!(both.to_string(), "gap;stuck");
        assert_eq!(Flags::NONE.to_string(), "");
        assert!(both.has(Flags::GAP) && !both.has(Flags::CUT) && !both.is_empty());
    }
}
