//! What can speak against a step, as a small set.

use crate::quantity::{Record, Sink, Source};
use core::fmt;

/// Signs that the load is too much.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct LoadSigns(u8);

impl LoadSigns {
    /// None.
    pub const NONE: Self = Self(0);
    /// Breaths have become more frequent and smaller than at the beginning of the step.
    pub const RAPID_SHALLOW: Self = Self(1);
    /// Minute volume has fallen against the beginning of the step, or far against the step before.
    pub const LESS_VOLUME: Self = Self(0x2);
    /// The infant breathes or triggers half as often as at the beginning of the step.
    pub const FEWER_OWN: Self = Self(0x4);
    /// More pauses than at the beginning of the step.
    pub const PAUSES: Self = Self(0x8);
    /// More efforts without an inflation.
    pub const MISSED: Self = Self(0x10);
    /// The infant draws harder through the tube: more pressure is lost in it.
    pub const TUBE_LOSS: Self = Self(0x20);
    /// Against the step before, breaths are faster and smaller than a loss of support explains.
    pub const COSTLY_STEP: Self = Self(0x40);

    /// All, in a fixed order, with their names.
    pub const ALL: [(Self, &'static str); 7] = [
        (Self::RAPID_SHALLOW, "faster and smaller breaths"),
        (Self::LESS_VOLUME, "less minute volume"),
        (Self::FEWER_OWN, "the infant breathes less"),
        (Self::PAUSES, "more pauses"),
        (Self::MISSED, "more missed efforts"),
        (Self::TUBE_LOSS, "more pressure lost in the tube"),
        (Self::COSTLY_STEP, "a costly step"),
    ];

    /// Those of which one alone speaks for a step back.
    pub(super) const STRONG: Self =
        Self(Self::RAPID_SHALLOW.0 | Self::LESS_VOLUME.0 | Self::FEWER_OWN.0);

    /// Both sets together.
    #[must_use]
    pub const fn with(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// `sign` if `present`, else none.
    #[must_use]
    pub const fn when(sign: Self, present: bool) -> Self {
        if present { sign } else { Self::NONE }
    }

    /// What is in both sets.
    #[must_use]
    pub const fn and(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }

    /// Whether every sign of `other` is here.
    #[must_use]
    pub const fn has(self, other: Self) -> bool {
        self.0 & other.0 == other.0
    }

    /// Whether there is none.
    #[must_use]
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// How many there are.
    #[must_use]
    pub const fn count(self) -> u32 {
        self.0.count_ones()
    }

    /// Their names.
    pub fn names(self) -> impl Iterator<Item = &'static str> {
        Self::ALL.into_iter().filter(move |(sign, _)| self.has(*sign)).map(|(_, name)| name)
    }
}

impl Record for LoadSigns {
    fn save(&self, to: &mut impl Sink) {
        self.0.save(to);
    }

    /// `None` for a bit that stands for no sign.
    fn load(from: &mut impl Source) -> Option<Self> {
        let known = Self::ALL.iter().fold(0, |all, (sign, _)| all | sign.0);
        u8::load(from).filter(|bits| bits & !known == 0).map(Self)
    }
}

impl fmt::Display for LoadSigns {
    /// The names with commas between; "none" for none.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.is_empty() {
            return f.write_str("none");
        }
        for (i, name) in self.names().enumerate() {
            if i > 0 {
                f.write_str(", ")?;
            }
            f.write_str(name)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::string::ToString;

    #[test]
    fn sets_hold_what_was_put_in() {
        let two = LoadSigns::PAUSES.with(LoadSigns::when(LoadSigns::MISSED, true));
        assert!(two.has(LoadSigns::PAUSES) && !two.has(LoadSigns::TUBE_LOSS));
        assert_eq!((two.count(), two.and(LoadSigns::STRONG).is_empty()), (2, true));
        assert_eq!(two.to_string(), "more pauses, more missed efforts");
        assert_eq!(LoadSigns::NONE.to_string(), "none");
        let all = LoadSigns::ALL.iter().fold(LoadSigns::NONE, |set, (sign, _)| set.with(*sign));
        assert_eq!((all.count(), all.names().count()), (7, 7));
    }
}
