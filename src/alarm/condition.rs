//! What can be wrong.

use crate::breath::Kind;
use crate::record;
use core::fmt;

record! {
    /// Whose breath it was, for limits of their own.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum BreathKind {
        /// The infant breathed alone.
        Own = 0,
        /// The machine supported an effort without assuring a volume.
        Supported = 1,
        /// The machine assured a volume or a rate.
        Assured = 2,
    }
}

impl BreathKind {
    /// All, in the order of the tables.
    pub const ALL: [Self; 3] = [Self::Own, Self::Supported, Self::Assured];

    /// The kind of a breath; `assured` says whether the machine assures the volume or rate of this
    /// inflation.
    #[must_use]
    pub const fn of(kind: Kind, assured: bool) -> Self {
        match kind {
            Kind::Own => Self::Own,
            Kind::Inflation if assured => Self::Assured,
            Kind::Inflation => Self::Supported,
        }
    }

    pub(crate) const fn index(self) -> usize {
        match self {
            Self::Own => 0,
            Self::Supported => 1,
            Self::Assured => 2,
        }
    }
}

record! {
    /// What a limit is set on.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum Measure {
        /// Expired volume of breaths of a kind, mL.
        Volume(BreathKind) = 0,
        /// Expired volume per minute, mL.
        MinuteVolume = 1,
        /// Breaths per minute.
        Rate = 2,
        /// Largest airway pressure of a breath, cmH2O.
        Pressure = 3,
        /// Leak as a share of the inspired volume.
        Leak = 4,
    }
}

record! {
    /// A condition that can ring.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum Condition {
        /// No inspiration for too long.
        Apnoea = 0,
        /// Gas goes in and none comes back, or the circuit stands open.
        Disconnection = 1,
        /// A measure below its lower limit.
        Low(Measure) = 2,
        /// A measure above its upper limit.
        High(Measure) = 3,
        /// Technical: the sensor gives no usable reading.
        SensorFault = 4,
        /// Technical: a measure that has limits cannot be known.
        CannotKnow(Measure) = 5,
        /// Technical: for so long nothing usable has come that nothing is watched.
        NoInput = 6,
    }
}

/// How many conditions there are.
pub(super) const CONDITIONS: usize = 25;
/// How many measures there are.
pub(super) const MEASURES: usize = 7;

impl Measure {
    /// The one of an [index](Self::index); the last for one beyond.
    const fn at(index: usize) -> Self {
        match index {
            0 => Self::Volume(BreathKind::Own),
            1 => Self::Volume(BreathKind::Supported),
            2 => Self::Volume(BreathKind::Assured),
            3 => Self::MinuteVolume,
            4 => Self::Rate,
            5 => Self::Pressure,
            _ => Self::Leak,
        }
    }

    pub(super) const fn index(self) -> usize {
        match self {
            Self::Volume(kind) => kind.index(),
            Self::MinuteVolume => 3,
            Self::Rate => 4,
            Self::Pressure => 5,
            Self::Leak => 6,
        }
    }

    const fn name(self) -> &'static str {
        match self {
            Self::Volume(BreathKind::Own) => "volume of own breaths",
            Self::Volume(BreathKind::Supported) => "volume of supported breaths",
            Self::Volume(BreathKind::Assured) => "volume of assured breaths",
            Self::MinuteVolume => "minute volume",
            Self::Rate => "rate",
            Self::Pressure => "peak pressure",
            Self::Leak => "leak",
        }
    }
}

impl Condition {
    /// All, in the order of the tables.
    pub fn all() -> impl Iterator<Item = Self> {
        (0..CONDITIONS).filter_map(Self::at)
    }

    /// The one of an [index](Self::index).
    #[must_use]
    pub(crate) const fn at(index: usize) -> Option<Self> {
        Some(match index {
            0 => Self::Apnoea,
            1 => Self::Disconnection,
            2 => Self::SensorFault,
            3..=9 => Self::Low(Measure::at(index.saturating_sub(3))),
            10..=16 => Self::High(Measure::at(index.saturating_sub(10))),
            17..=23 => Self::CannotKnow(Measure::at(index.saturating_sub(17))),
            24 => Self::NoInput,
            _ => return None,
        })
    }

    /// Its place among [all](Self::all): a number for tables, which never changes.
    #[must_use]
    pub const fn index(self) -> usize {
        match self {
            Self::Apnoea => 0,
            Self::Disconnection => 1,
            Self::SensorFault => 2,
            Self::Low(measure) => measure.index().saturating_add(3),
            Self::High(measure) => measure.index().saturating_add(10),
            Self::CannotKnow(measure) => measure.index().saturating_add(17),
            Self::NoInput => 24,
        }
    }
}

impl fmt::Display for Condition {
    /// In plain words.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Apnoea => f.write_str("apnoea"),
            Self::Disconnection => f.write_str("disconnection"),
            Self::SensorFault => f.write_str("sensor fault"),
            Self::NoInput => f.write_str("no input from the sensor"),
            Self::Low(measure) => write!(f, "{} low", measure.name()),
            Self::High(measure) => write!(f, "{} high", measure.name()),
            Self::CannotKnow(measure) => write!(f, "{} cannot be known", measure.name()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::string::ToString;

    #[test]
    fn every_condition_has_its_own_place() {
        // 3 + 3 × 7 + 1 = 25
        let places: std::vec::Vec<_> = Condition::all().map(Condition::index).collect();
        assert_eq!(places, (0..CONDITIONS).collect::<std::vec::Vec<_>>());
    }

    #[test]
    fn kinds_follow_the_breath() {
        assert_eq!(BreathKind::of(Kind::Own, true), BreathKind::Own);
        assert_eq!(BreathKind::of(Kind::Inflation, true), BreathKind::Assured);
        assert_eq!(BreathKind::of(Kind::Inflation, false), BreathKind::Supported);
        let low = Condition::Low(Measure::Volume(BreathKind::Own));
        assert_eq!(low.to_string(), "volume of own breaths low");
    }
}
