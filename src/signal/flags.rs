//! What was wrong, as a small set.

use crate::quantity::{Record, Sink, Source};
use core::fmt;

/// A set of remarks on an interval or a breath. A breath with any remark is reported, but feeds no
/// window, fit or advice.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Flags(u16);

impl Flags {
    /// Nothing to remark.
    pub const NONE: Self = Self(0);
    /// Samples were missing for longer than the gap limit.
    pub const GAP: Self = Self(1);
    /// A reading lay outside the sensor's stated range and was refused.
    pub const OUT_OF_RANGE: Self = Self(0x2);
    /// A reading came with a time not after the one before it and was refused.
    pub const DISORDER: Self = Self(0x4);
    /// The readings did not change when a live sensor's would.
    pub const STUCK: Self = Self(0x8);
    /// The flow sat at one extreme value, as a sensor at the end of its range does.
    pub const CLIPPED: Self = Self(0x10);
    /// A number reached the end of its range and was clamped.
    pub const SATURATED: Self = Self(0x20);
    /// The recording began inside this breath.
    pub const BEGUN_BEFORE: Self = Self(0x40);
    /// The breath was cut short by a long gap or by the end of the recording.
    pub const CUT: Self = Self(0x80);
    /// Noise in the quiet flow far beyond the usual, as water in the line makes.
    pub const NOISY: Self = Self(0x100);
    /// The flow sensor's zero has drifted.
    pub const ZERO_DRIFT: Self = Self(0x200);
    /// The breath was cut out with a leak that has just turned out wrong.
    pub const UNSETTLED: Self = Self(0x400);

    const NAMES: [(Self, &'static str); 11] = [
        (Self::GAP, "gap"),
        (Self::OUT_OF_RANGE, "out-of-range"),
        (Self::DISORDER, "disorder"),
        (Self::STUCK, "stuck"),
        (Self::CLIPPED, "clipped"),
        (Self::SATURATED, "saturated"),
        (Self::BEGUN_BEFORE, "begun-before"),
        (Self::CUT, "cut"),
        (Self::NOISY, "noisy"),
        (Self::ZERO_DRIFT, "zero-drift"),
        (Self::UNSETTLED, "unsettled"),
    ];

    /// Both sets together.
    #[must_use]
    pub const fn with(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// `flag` if `present`, else nothing.
    #[must_use]
    pub const fn when(flag: Self, present: bool) -> Self {
        if present { flag } else { Self::NONE }
    }

    /// Whether every remark of `other` is here.
    #[must_use]
    pub const fn has(self, other: Self) -> bool {
        self.0 & other.0 == other.0
    }

    /// Whether there is nothing to remark.
    #[must_use]
    pub const fn is_clear(self) -> bool {
        self.0 == 0
    }

    /// The remarks' names, in a fixed order.
    pub fn names(self) -> impl Iterator<Item = &'static str> {
        Self::NAMES.into_iter().filter(move |(flag, _)| self.has(*flag)).map(|(_, name)| name)
    }
}

impl Record for Flags {
    fn save(&self, to: &mut impl Sink) {
        self.0.save(to);
    }

    /// `None` for a bit that stands for no remark.
    fn load(from: &mut impl Source) -> Option<Self> {
        let known = Self::NAMES.iter().fold(0, |all, (flag, _)| all | flag.0);
        u16::load(from).filter(|bits| bits & !known == 0).map(Self)
    }
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
        assert!(both.has(Flags::GAP) && !both.has(Flags::CUT) && !both.is_clear());
    }
}
