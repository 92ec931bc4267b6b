//! What happens between breaths.

use super::MachineSettings;
use crate::alarm::{AlarmEvent, Change};
use crate::breath::{Implausible, Phase};
use crate::mechanics::Jump;
use crate::quantity::{Flow, Instant, Saturated, Volume};
use crate::record;
use crate::signal::{Flags, Refusal};
use crate::trend::{LoadSigns, LoadVerdict};
use crate::trigger::Effort;
use core::fmt;

record! {
    /// Something worth a line in the log.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub struct Event {
        /// When it happened, on the recording's own time as a breath's onset is. What a closed breath brings bears that
        /// breath's end (a double trigger its onset), which may lie before what was told earlier.
        pub at: Instant,
        /// What it was.
        pub what: EventKind,
    }
}

record! {
    /// What can happen.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    #[non_exhaustive]
    pub enum EventKind {
        /// No usable sample came between `since` and now. With `cut` the breath under way was closed
        /// and counting began afresh; else the time passed without volume.
        Gap {
            /// The last usable sample before.
            since: Instant,
            /// Whether counting began afresh.
            cut: bool,
        } = 0,
        /// The readings stopped changing.
        Stuck = 1,
        /// The flow sits at one extreme value.
        Clipped = 2,
        /// A reading was refused (the first of a row).
        Refused(Refusal) = 3,
        /// Ticks went back and stayed back: the clock was reset, and counting began afresh.
        ClockReset {
            /// The last sample before.
            since: Instant,
        } = 4,
        /// The infant made an effort that got no inflation of its own and moved too little gas to count
        /// as a breath.
        MissedEffort(Effort) = 5,
        /// A timed inflation brought about an effort, as those before it did (reverse triggering).
        ReverseTrigger(Effort) = 18,
        /// The flow sensor's zero has drifted by this much.
        ZeroDrift(Flow) = 6,
        /// Something set on the machine was changed that is no step of weaning.
        SettingsChanged(MachineSettings) = 7,
        /// A step of weaning, or one back: rate, peak or support were changed to these.
        WeanStep(MachineSettings) = 8,
        /// What is made of the present step has changed.
        Load(LoadVerdict) = 9,
        /// An alarm began or ended.
        Alarm(AlarmEvent) = 10,
        /// A second inflation on one effort.
        DoubleTrigger = 11,
        /// The inspiration under way reached the volume limit.
        LimitReached(Saturated<Volume>) = 12,
        /// Readings were missing in the inspiration under way: whether it reaches the volume limit is
        /// not known.
        LimitUnknown = 13,
        /// What breaths are like cannot be, for this reason.
        Implausible(Implausible) = 14,
        /// The infant breathes faster and smaller: with these signs a step back is asked for.
        Tiring(LoadSigns) = 15,
        /// The circuit stands open, or suction draws: the pressure has fallen towards ambient, or gas flows
        /// in and does not turn.
        OpenCircuit = 16,
        /// Compliance or resistance of passive breaths has changed at once.
        LungChanged(Jump) = 17,
    }
}

impl EventKind {
    /// The event's name in exports.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Gap { .. } => "gap",
            Self::Stuck => "stuck",
            Self::Clipped => "clipped",
            Self::Refused(Refusal::NotLater | Refusal::FarAhead) => "disorder",
            Self::Refused(_) => "out-of-range",
            Self::ClockReset { .. } => "clock-reset",
            Self::MissedEffort(_) => "missed-effort",
            Self::ReverseTrigger(_) => "reverse-trigger",
            Self::ZeroDrift(_) => "zero-drift",
            Self::Alarm(alarm) => match alarm.change {
                Change::On => "alarm-on",
                Change::Off => "alarm-off",
            },
            Self::SettingsChanged(_) => "settings",
            Self::WeanStep(_) => "wean-step",
            Self::Load(LoadVerdict::StepBack(_)) => "step-back",
            Self::Tiring(_) => "tiring",
            Self::Load(_) => "load",
            Self::DoubleTrigger => "double-trigger",
            Self::LimitReached(_) => "volume-limit",
            Self::LimitUnknown => "volume-limit-unknown",
            Self::Implausible(_) => "implausible",
            Self::OpenCircuit => "open-circuit",
            Self::LungChanged(_) => "lung-changed",
        }
    }

    /// Whether it belongs into a [`Journal`](super::Journal): settings, steps, alarms, verdicts, and
    /// when the check was blind or its numbers were not to be believed. Not what may come with every
    /// breath: a sensor that stands still or sits at its end, an effort missed, a double trigger.
    #[must_use]
    pub const fn is_for_journal(&self) -> bool {
        match self {
            Self::WeanStep(_)
            | Self::SettingsChanged(_)
            | Self::Alarm(_)
            | Self::Load(_)
            | Self::Gap { .. }
            | Self::Refused(_)
            | Self::ClockReset { .. }
            | Self::ZeroDrift(_)
            | Self::Implausible(_)
            | Self::Tiring(_)
            | Self::OpenCircuit
            | Self::LungChanged(_)
            | Self::LimitReached(_)
            | Self::LimitUnknown => true,
            Self::Stuck
            | Self::Clipped
            | Self::MissedEffort(_)
            | Self::ReverseTrigger(_)
            | Self::DoubleTrigger => false,
        }
    }

    /// Whether it may come many times a minute.
    pub(super) const fn may_swarm(&self) -> bool {
        matches!(
            self,
            Self::Gap { .. } | Self::Refused(_) | Self::LimitReached(_) | Self::LimitUnknown
        )
    }

    /// The event that a newly risen flag makes, for those that make one.
    pub(super) const fn of_flag(flag: Flags, since: Instant) -> Option<Self> {
        if flag.has(Flags::GAP) {
            Some(Self::Gap { since, cut: false })
        } else if flag.has(Flags::STUCK) {
            Some(Self::Stuck)
        } else if flag.has(Flags::CLIPPED) {
            Some(Self::Clipped)
        } else if flag.has(Flags::OPEN) {
            Some(Self::OpenCircuit)
        } else {
            None
        }
    }
}

impl fmt::Display for Event {
    /// The detail in words.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.what {
            EventKind::Gap { since, cut } => {
                write!(f, "no usable sample for {}", self.at.since(since))?;
                f.write_str(if cut { "; breath cut, counting afresh" } else { "" })
            }
            EventKind::Stuck => f.write_str("readings do not change"),
            EventKind::Clipped => f.write_str("flow sits at one extreme"),
            EventKind::Refused(Refusal::FlowOutOfRange) => {
                f.write_str("flow out of range, refused")
            }
            EventKind::Refused(Refusal::PressureOutOfRange) => {
                f.write_str("pressure out of range, refused")
            }
            EventKind::Refused(Refusal::NotLater) => f.write_str("time not later, refused"),
            EventKind::Refused(Refusal::FarAhead) => f.write_str("time far ahead, refused"),
            EventKind::ClockReset { .. } => f.write_str("time went back; counting afresh"),
            EventKind::MissedEffort(effort) => {
                let during = match effort.during {
                    Phase::Inspiration => "during an inflation",
                    Phase::Expiration | Phase::Unknown => "in expiration",
                };
                write!(f, "muscle pressure rose by about {:.1} {during}", effort.size)
            }
            EventKind::ReverseTrigger(effort) => {
                write!(f, "muscle pressure rose by about {:.1}", effort.size)?;
                f.write_str(" after a timed inflation, as after those before")
            }
            EventKind::ZeroDrift(offset) => {
                write!(f, "the flow sensor's zero stands {offset:.1} off")
            }
            EventKind::SettingsChanged(set) | EventKind::WeanStep(set) => write!(f, "{set}"),
            EventKind::Load(verdict) => write!(f, "{verdict}"),
            EventKind::Alarm(alarm) => write!(f, "{alarm}"),
            EventKind::DoubleTrigger => {
                f.write_str("second inflation within half an inspiratory time")
            }
            EventKind::Implausible(why) => write!(f, "{why}"),
            EventKind::LungChanged(jump) => write!(f, "{jump}"),
            EventKind::OpenCircuit => {
                f.write_str("the circuit stands open, or suction draws; nothing is learned from it")
            }
            EventKind::Tiring(signs) => write!(f, "{signs}"),
            EventKind::LimitUnknown => {
                f.write_str("readings missing in this inspiration; what it moved is not known")
            }
            EventKind::LimitReached(moved) => write!(f, "limit reached at {:.1}", moved.value),
        }
    }
}
