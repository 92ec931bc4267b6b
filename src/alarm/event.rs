//! What goes into the alarms and what comes out.

use super::{BreathKind, Change, Condition, Measure, Priority};
use crate::breath::Breath;
use crate::quantity::{Duration, Instant, Pressure, Rate, Share, Volume, shown};
use crate::record;
use core::fmt;

record! {
    /// One breath as the alarms see it: made [of](Self::of) a closed one. `None` where a value cannot be known.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct BreathView {
        /// The onset of the inspiration that closed it.
        pub(crate) at: Instant,
        /// Whose breath it was.
        pub(crate) kind: BreathKind,
        /// Inspired volume at the sensor, mL.
        pub(crate) inspired: Option<Volume>,
        /// Expired volume at the sensor, mL.
        pub(crate) expired: Option<Volume>,
        /// The most that had come out, mL: what leaks in while all is quiet takes nothing from it.
        pub(crate) most_out: Option<Volume>,
        /// Leak as a share of the inspired volume.
        pub(crate) leak: Option<Share>,
        /// Breaths per minute.
        pub(crate) rate: Option<Rate>,
        /// Expired volume per minute, mL. Per kg if its limits are.
        pub(crate) minute_volume: Option<Volume>,
        /// Largest airway pressure.
        pub(crate) peak: Option<Pressure>,
        /// Whether breath was drawn for certain: then it ends an apnoea, whatever its values are worth.
        pub(crate) drawn: bool,
        /// Whether nothing was wrong with it. Else none of its values counts.
        pub(crate) trusted: bool,
    }
}

impl BreathView {
    /// The view of a closed breath; leak, rate and minute volume are those over more than one
    /// breath, which the caller keeps. Two wide divides.
    #[must_use]
    pub fn of(
        breath: &Breath,
        kind: BreathKind,
        leak: Option<Share>,
        rate: Option<Rate>,
        minute_volume: Option<Volume>,
    ) -> Self {
        Self {
            at: breath.end,
            kind,
            inspired: breath.inspired.within(),
            expired: breath.expired.within(),
            most_out: breath.most_out.within(),
            leak,
            rate,
            minute_volume,
            peak: Some(breath.peak),
            drawn: breath.is_drawn(),
            trusted: breath.is_trusted(),
        }
    }

    pub(super) fn value(&self, measure: Measure) -> Option<AlarmValue> {
        if !self.trusted {
            return None;
        }
        match measure {
            Measure::Volume(kind) if kind == self.kind => self.expired.map(AlarmValue::Volume),
            Measure::Volume(_) => None,
            Measure::MinuteVolume => self.minute_volume.map(AlarmValue::Volume),
            Measure::Rate => self.rate.map(AlarmValue::Rate),
            Measure::Pressure => self.peak.map(AlarmValue::Pressure),
            Measure::Leak => self.leak.map(AlarmValue::Share),
        }
    }
}

record! {
    /// The value that goes with an event.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    #[non_exhaustive]
    pub enum AlarmValue {
        /// Volume, or volume per minute, in mL.
        Volume(Volume) = 0,
        /// Pressure.
        Pressure(Pressure) = 1,
        /// Rate.
        Rate(Rate) = 2,
        /// Leak.
        Share(Share) = 3,
        /// Time without an inspiration.
        Span(Duration) = 4,
    }
}

record! {
    /// An alarm began or ended.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub struct AlarmEvent {
        /// When.
        pub at: Instant,
        /// Which condition.
        pub condition: Condition,
        /// Its priority.
        pub priority: Priority,
        /// Whether it began or ended.
        pub change: Change,
        /// The value that made it so, where there is one; of a disconnection the share of its gas that the latest
        /// breath lost.
        pub value: Option<AlarmValue>,
    }
}

impl fmt::Display for AlarmEvent {
    /// Condition, value and priority; and that it ended, where it did.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.condition)?;
        match self.value {
            Some(AlarmValue::Volume(v)) => write!(f, " at {v:.1}")?,
            Some(AlarmValue::Pressure(p)) => write!(f, " at {p:.1}")?,
            Some(AlarmValue::Rate(r)) => write!(f, " at {r:.0}")?,
            Some(AlarmValue::Share(s)) => {
                write!(f, " at {:.0} %", shown(s.to_percent().value, 0))?;
            }
            Some(AlarmValue::Span(t)) => write!(f, " for {t}")?,
            None => {}
        }
        write!(f, ", {} priority", self.priority.name())?;
        f.write_str(if self.change == Change::Off { ", ended" } else { "" })
    }
}
