//! What started an inflation.

use super::{Floor, Noise};
use crate::breath::{Breath, Kind};
use crate::quantity::{Flow, Moment, Problem, Rate, SettingError, Span};
use core::fmt;

/// What started an inflation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Cause {
    /// The machine's own timer.
    Timed,
    /// The infant.
    Effort,
    /// Leak flow above the threshold: the machine triggered itself.
    SelfLeak,
    /// Heartbeat ripple or noise above the threshold: the machine triggered itself.
    SelfRipple,
    /// It cannot be told.
    Unknown(NoCause),
}

/// Why a cause cannot be told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum NoCause {
    /// The breath carries a flag.
    Flagged,
    /// No threshold was given, and without it neither leak nor ripple can be held against it.
    NoThreshold,
    /// No quiet flow was seen and no leak is known yet.
    NoFloor,
    /// No effort, no leak or ripple that reaches the threshold, and not the set rate's time.
    Unexplained,
}

/// What a verdict rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Evidence {
    /// Flow above the leak before the pressure rose: the infant's deflection, or ripple.
    pub deflection: Flow,
    /// From the onset to the first sign of the rise.
    pub lead: Span,
    /// Leak at baseline pressure.
    pub leak: Flow,
    /// Noise and ripple of the quiet flow; zero where none was seen yet.
    pub noise: Noise,
    /// The threshold on the machine.
    pub threshold: Flow,
    /// Since the onset of the inflation before; `None` for the first.
    pub interval: Option<Span>,
    /// The interval is the set rate's, or longer.
    pub on_time: bool,
    /// The infant ended the inspiration while the machine still pressed.
    pub ended_by_infant: bool,
}

/// A cause with what it rests on; evidence is missing where nothing could be judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[must_use]
pub struct Initiation {
    /// What started the inflation.
    pub cause: Cause,
    /// What the verdict rests on.
    pub evidence: Option<Evidence>,
}

/// Settings of the verdict; by default neither threshold nor set rate is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct CauseCheck {
    threshold: Option<Flow>,
    period: Option<Span>,
}

/// The inflation before.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct CauseState {
    last: Option<Moment>,
}

impl CauseCheck {
    /// A check against the threshold and the set rate, where they are given (a rate of zero assures
    /// nothing).
    ///
    /// # Errors
    /// `set_rate` below zero.
    pub fn new(threshold: Option<Flow>, set_rate: Option<Rate>) -> Result<Self, SettingError> {
        if set_rate.is_some_and(|rate| rate < Rate::ZERO) {
            return Err(SettingError::new("set_rate", Problem::Negative));
        }
        Ok(Self { threshold, period: set_rate.and_then(Rate::period) })
    }

    /// Judges a closed breath against the floor known by then; `None` for an own breath.
    /// Additions and compares only.
    ///
    /// - A deflection that stands out of the noise before the pressure rises is an effort, unless
    ///   leak or ripple reach the threshold by themselves; then only an inspiration that the infant
    ///   also ended, or a deflection beyond what ripple reaches, still counts as one.
    /// - Without a deflection, a leak at the threshold is the cause, before the set rate's time;
    ///   else the timer is.
    pub fn step(
        &self,
        state: &mut CauseState,
        breath: &Breath,
        floor: Option<Floor>,
    ) -> Option<Initiation> {
        if breath.kind == Kind::Own {
            return None;
        }
        let interval = state.last.map(|last| breath.onset.since(last));
        state.last = Some(breath.onset);
        let unknown = |why| Some(Initiation { cause: Cause::Unknown(why), evidence: None });
        if !breath.is_trusted() {
            return unknown(NoCause::Flagged);
        }
        let Some(floor) = floor else { return unknown(NoCause::NoFloor) };
        let Some(threshold) = self.threshold else { return unknown(NoCause::NoThreshold) };
        let noise = floor.noise.unwrap_or_default();
        let evidence = Evidence {
            deflection: breath.lead.peak.saturating_sub(floor.leak).value.max(Flow::ZERO),
            lead: breath.lead.until.since(breath.onset),
            leak: floor.leak,
            noise,
            threshold,
            interval,
            on_time: self.is_on_time(interval),
            ended_by_infant: breath
                .is_ended_by_infant(noise.reach.saturating_add(noise.reach).value),
        };
        Some(Initiation { cause: evidence.cause(), evidence: Some(evidence) })
    }

    /// An interval of the set rate's period, less a twentieth, or more.
    fn is_on_time(&self, interval: Option<Span>) -> bool {
        match (self.period, interval) {
            (Some(period), Some(interval)) => interval.saturating_add(period.twentieth()) >= period,
            (None, _) => false,
            (Some(_), None) => true,
        }
    }
}

impl Evidence {
    fn cause(&self) -> Cause {
        let sum = |a: Flow, b: Flow| a.saturating_add(b).value;
        let most_of = |x: Flow| x.saturating_sub(x.halved(3)).value;
        let reached = sum(self.leak, self.deflection)
            >= self.threshold.saturating_sub(self.threshold.halved(4)).value;
        let effort_like = reached && self.stands_out();
        let leak_reaches = self.leak >= most_of(self.threshold);
        let leak_exceeds = self.leak >= sum(self.threshold, self.threshold.halved(3));
        let ripple_reaches = sum(self.leak, self.noise.reach) >= most_of(self.threshold);
        let beyond_ripple = self.deflection > sum(self.noise.reach, self.noise.reach.halved(1));
        let own_hand = self.ended_by_infant || beyond_ripple;
        if effort_like && (own_hand || !(leak_reaches || ripple_reaches)) {
            Cause::Effort
        } else if leak_exceeds || (leak_reaches && !self.on_time) {
            Cause::SelfLeak
        } else if self.on_time {
            Cause::Timed
        } else if ripple_reaches {
            Cause::SelfRipple
        } else if self.interval.is_none() {
            Cause::Timed
        } else {
            Cause::Unknown(NoCause::Unexplained)
        }
    }

    /// Whether the deflection is more than noise, and lasted longer than the machine's own flow
    /// can run ahead of its pressure (half as long where the infant also ended the inspiration).
    fn stands_out(&self) -> bool {
        let noise = self.noise.spread.saturating_add(self.noise.spread).value;
        let least = if self.ended_by_infant { LEAST_LEAD_OF_TWO } else { LEAST_LEAD };
        self.lead >= least && self.deflection > noise.max(LEAST_DEFLECTION)
    }
}

/// A deflection needs this long to be one.
const LEAST_LEAD: Span = Span::from_millis(25);
/// The same where there is a second sign of the infant.
const LEAST_LEAD_OF_TWO: Span = Span::from_millis(10);
/// Below this no deflection is believed, however quiet the sensor.
const LEAST_DEFLECTION: Flow = Flow::from_bits(1 << 15);

impl Cause {
    /// The cause's name in exports.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Timed => "timed",
            Self::Effort => "effort",
            Self::SelfLeak => "self-leak",
            Self::SelfRipple => "self-ripple",
            Self::Unknown(_) => "unknown",
        }
    }

    /// Whether the machine triggered itself.
    #[must_use]
    pub const fn is_self_cycled(self) -> bool {
        matches!(self, Self::SelfLeak | Self::SelfRipple)
    }
}

impl fmt::Display for NoCause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Flagged => "the breath carries a flag",
            Self::NoThreshold => "no trigger threshold was given",
            Self::NoFloor => "no quiet flow was seen yet",
            Self::Unexplained => {
                "no effort, no leak or ripple that reaches the threshold, and not \
                the set rate's time"
            }
        })
    }
}

impl fmt::Display for Initiation {
    /// One sentence.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self.cause {
            Cause::Timed => "Started by the machine's timer",
            Cause::Effort => "Started by the infant",
            Cause::SelfLeak => "Started by the machine itself on leak",
            Cause::SelfRipple => "Started by the machine itself on ripple or noise",
            Cause::Unknown(why) => return write!(f, "The cause cannot be told: {why}."),
        })?;
        let Some(e) = self.evidence else { return f.write_str(".") };
        write!(
            f,
            ": {:.1} above the leak of {:.1} over {} before the pressure rose, threshold {:.1}, \
             ripple and noise reach {:.1}",
            e.deflection, e.leak, e.lead, e.threshold, e.noise.reach
        )?;
        if let Some(interval) = e.interval {
            write!(f, ", {interval} after the inflation before")?;
        }
        f.write_str(if e.ended_by_infant { "; the infant also ended it." } else { "." })
    }
}
