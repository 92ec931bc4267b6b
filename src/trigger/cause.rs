//! What started an inflation.

use super::{Noise, NoiseFloor, Pull};
use crate::breath::{Breath, Kind, TriggerPhase};
use crate::quantity::{
    Duration, Flow, Instant, Pressure, Problem, Rate, SettingError, const_default, shown,
};
use crate::record;
use core::fmt;

record! {
    /// What started an inflation.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum Cause {
        /// The machine's own timer.
        Timed = 0,
        /// The infant.
        Effort = 1,
        /// Leak flow above the threshold: the machine triggered itself.
        SelfLeak = 2,
        /// Heartbeat ripple or noise above the threshold: the machine triggered itself.
        SelfRipple = 3,
        /// It cannot be told.
        Unknown(NoCause) = 4,
    }
}

record! {
    /// Why a cause cannot be told.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[non_exhaustive]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum NoCause {
        /// The breath carries a flag.
        Flagged = 0,
        /// No threshold was given, the infant did not pull, and whether a timer was due is not known: what
        /// else can start an inflation is not told apart.
        NoThreshold = 1,
        /// No quiet flow was seen and no leak is known yet.
        NoFloor = 2,
        /// Flow comes after its pressure: of late pressure was up by the inflation rise before quiet flow turned
        /// inward. What the trigger saw lies behind that rise; only a long effort still stands out.
        FlowLate = 3,
        /// Pressure comes after its flow: of late that flowed at three quarters of its peak before the pressure rose by
        /// 8 cmH2O and more. All of it looks like effort.
        PressureLate = 4,
    }
}

record! {
    /// What a verdict rests on.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub struct TriggerEvidence {
        /// Largest flow at the sensor before the pressure rose: what the trigger saw.
        pub sensed: Flow,
        /// That flow above the leak: the infant's deflection, or ripple.
        pub deflection: Flow,
        /// From the onset to the first sign of the rise.
        pub lead: Duration,
        /// Leak at baseline pressure.
        pub leak: Flow,
        /// Noise and ripple of the quiet flow; zero where none was seen yet.
        pub noise: Noise,
        /// The threshold on the machine; `None` where it is not set as a flow, or not known.
        pub threshold: Option<Flow>,
        /// How far the infant's muscle pressure rose as the inflation began; `None` where that cannot be told
        /// yet.
        pub pull: Option<Pull>,
        /// Since the onset of the inflation before; `None` for the first.
        pub interval: Option<Duration>,
        /// Whether the timer of the set rate was due: its period, less a twentieth, had passed from the rise
        /// of the last inflation that it assures to this one's. `None` where no set rate was given.
        pub on_time: Option<bool>,
        /// The infant ended the inspiration while the machine still pressed.
        pub ended_by_infant: bool,
    }
}

record! {
    /// A cause with what it rests on; evidence is missing where nothing could be judged.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[must_use]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    #[non_exhaustive]
    pub struct Initiation {
        /// What started the inflation.
        pub cause: Cause,
        /// What the verdict rests on.
        pub evidence: Option<TriggerEvidence>,
    }
}

/// Settings of the verdict; by default neither threshold nor set rate is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[doc(hidden)]
pub struct CauseCheck {
    threshold: Option<Flow>,
    period: Option<Duration>,
}

const_default! {
    CauseCheck: Self { threshold: None, period: None }
}

record! {
    #[const_default]
    /// The inflation before, and where the pressure of the last that the set rate assures began to rise.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct CauseState {
        last: Option<Last>,
        assured: Option<Instant>,
        /// Four for each inflation whose flow came late, less one for each whose did not; from twelve on a
        /// thousand.
        late: u16,
        /// The same of those whose pressure did.
        early: u16,
    }
}

record! {
    /// An inflation's onset, and where its pressure began to rise.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    struct Last {
        onset: Instant,
        rise: Instant,
    }
}

impl CauseState {
    /// Since the onset of the last inflation; `None` before the first.
    #[must_use]
    pub fn since_inflation(&self, at: Instant) -> Option<Duration> {
        self.last.map(|last| at.since(last.onset))
    }

    /// Which of flow and pressure comes late, this trusted inflation counted. In one that traps gas the pressure is
    /// up first, too: only what follows quiet flow tells. One that rises little may be the infant's flow for the most.
    fn hear(&mut self, breath: &Breath) -> Option<NoCause> {
        let was_up = breath.pressure_rise.is_some_and(|rise| rise <= breath.onset);
        let flow_late = remember(&mut self.late, was_up && breath.quiet.is_some());
        let high = breath.peak.saturating_sub(breath.baseline).value >= HIGH;
        let peak = breath.peak_insp_flow;
        let most = peak.saturating_sub(peak.halved(2)).value;
        let pressure_late = remember(&mut self.early, high && breath.lead.peak >= most);
        if pressure_late {
            Some(NoCause::PressureLate)
        } else {
            flow_late.then_some(NoCause::FlowLate)
        }
    }

    /// The inflation just judged is one that the set rate assures: its timer begins anew.
    pub fn assured(&mut self) {
        self.assured = self.last.map(|last| last.rise);
    }
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

    /// Judges a closed breath against the floor known by then, and how far the infant's muscle pressure rose
    /// as it began ([`EffortState::pull`](super::EffortState::pull)), and how far flow lags behind pressure;
    /// `None` for an own breath. Additions and compares only.
    ///
    /// - A trigger that saw less than seven eighths of its threshold did not fire: the timer did.
    /// - A leak at the threshold is the cause, unless a long deflection beyond ripple speaks for the
    ///   infant, or the timer was due and the trigger saw little more than its threshold.
    /// - Where leak and ripple together reach the threshold, an inspiration that the infant ended or
    ///   a deflection beyond ripple is the infant's.
    /// - Else a deflection of at least 15 ms that reaches the threshold is the infant's.
    /// - What would be the infant's by its flow, though leak and ripple reach eleven sixteenths of the
    ///   threshold, must show in the muscle pressure too (1 cmH2O), or in a deflection of 2.5 times the
    ///   ripple, or in an inspiration that the infant ended. What would be ripple's is the infant's at
    ///   1.6 cmH2O. From three eighths on, a deflection of less than 40 ms and of 1.5 thresholds against
    ///   which the muscle pressure goes is a burst of water.
    /// - Where pressure comes late, nothing is known ([`NoCause::PressureLate`]).
    /// - Where flow comes late, all but the infant is not known ([`NoCause::FlowLate`]); nor is a timer that
    ///   is not known to have been due, where flow lags by 5 ms and more and muscle pressure rose (1 cmH2O).
    /// - Without a threshold the muscle pressure alone tells the infant (1 cmH2O); else a timer that was
    ///   due is the cause.
    #[doc(hidden)]
    pub fn step(
        &self,
        state: &mut CauseState,
        breath: &Breath,
        floor: Option<NoiseFloor>,
        pull: Option<Pull>,
        lag: Option<Duration>,
    ) -> Option<Initiation> {
        if breath.kind == Kind::Own {
            return None;
        }
        let interval = state.since_inflation(breath.onset);
        state.last = Some(Last { onset: breath.onset, rise: breath.lead.until });
        let unknown = |why| Some(Initiation { cause: Cause::Unknown(why), evidence: None });
        if !breath.is_trusted() {
            return unknown(NoCause::Flagged);
        }
        let shifted = state.hear(breath);
        let Some(floor) = floor else { return unknown(NoCause::NoFloor) };
        let noise = floor.noise.unwrap_or_default();
        let evidence = TriggerEvidence {
            sensed: breath.lead.peak,
            deflection: breath.lead.peak.saturating_sub(floor.leak).value.max(Flow::ZERO),
            lead: breath.lead.until.since(breath.onset),
            leak: floor.leak,
            noise,
            threshold: self.threshold,
            pull,
            interval,
            // A timer counts from rise to rise: an effort before it may have begun the breath sooner.
            on_time: self.is_on_time(state.assured.map(|last| breath.lead.until.since(last))),
            ended_by_infant: breath.is_ended_by_infant(LEAST_EARLY_OUT),
        };
        let lags = lag.is_some_and(|lag| lag >= MUCH_LAG);
        let pulled = lags && pull.is_some_and(|pull| pull.size >= PULL);
        let cause = evidence.cause();
        let doubted = cause == Cause::Timed && pulled && !evidence.is_due();
        let cause = match shifted {
            Some(NoCause::FlowLate) if cause == Cause::Effort => cause,
            Some(why) => Cause::Unknown(why),
            None if doubted => Cause::Unknown(NoCause::FlowLate),
            None => cause,
        };
        Some(Initiation { cause, evidence: Some(evidence) })
    }

    /// An interval of the set rate's period, less a twentieth, or more; the first is.
    fn is_on_time(&self, interval: Option<Duration>) -> Option<bool> {
        let period = self.period?;
        let is_due = |interval: Duration| interval.saturating_add(period.twentieth()) >= period;
        Some(interval.is_none_or(is_due))
    }
}

impl TriggerEvidence {
    fn cause(&self) -> Cause {
        let Some(threshold) = self.threshold else { return self.without_threshold() };
        match (self.by_flow(threshold), self.pull) {
            (Cause::Effort, Some(pull)) if self.is_ripples(threshold, pull) => Cause::SelfRipple,
            (Cause::SelfRipple, Some(pull)) if pull.size >= STRONG_PULL => Cause::Effort,
            (by_flow, _) => by_flow,
        }
    }

    /// By the muscle pressure alone, and the timer.
    fn without_threshold(&self) -> Cause {
        match (self.pull, self.on_time) {
            (Some(pull), _) if pull.size >= PULL => Cause::Effort,
            (Some(_), Some(true)) => Cause::Timed,
            _ => Cause::Unknown(NoCause::NoThreshold),
        }
    }

    /// What has a long deflection and is ripple's all the same. A burst of water reaches further than what is
    /// seen of it in quiet flow: from three eighths of the threshold on it is one where it was short, was no
    /// more than half as much again as the threshold, and the muscle pressure went the other way. From eleven
    /// sixteenths on, ripple may have done it: the infant must have pulled, ended the inspiration, or moved
    /// far more than ripple does.
    fn is_ripples(&self, threshold: Flow, pull: Pull) -> bool {
        let (half, quarter) = (threshold.halved(1), threshold.halved(2));
        let sixteenth = quarter.halved(2);
        let sum = |a: Flow, b: Flow| a.saturating_add(b).value;
        let reach = self.noise.reach;
        let top = sum(self.leak, reach);
        if self.leak >= threshold.saturating_sub(sixteenth).value {
            return false;
        }
        let against = Pressure::ZERO.saturating_sub(SOME_PULL).value;
        let is_burst = pull.size <= against
            && self.lead < NO_BURST
            && self.sensed < sum(threshold, half)
            && !self.ended_by_infant;
        if top < sum(half, sum(quarter.halved(1), sixteenth)) {
            return is_burst && top >= sum(quarter, quarter.halved(1));
        }
        let beyond = self.deflection > sum(sum(reach, reach), reach.halved(1)) && !is_burst;
        let pulled = pull.size >= if self.ended_by_infant { SOME_PULL } else { PULL };
        !pulled && !beyond
    }

    fn by_flow(&self, threshold: Flow) -> Cause {
        let sum = |a: Flow, b: Flow| a.saturating_add(b).value;
        let less = |x: Flow, halvings: u32| x.saturating_sub(x.halved(halvings)).value;
        let more = |x: Flow, halvings: u32| sum(x, x.halved(halvings));
        let nearly = less(threshold, 4);
        let top = sum(self.leak, self.noise.reach);
        if self.sensed < less(threshold, 3) {
            // Nothing the trigger saw could have fired it.
            let ripple = top > more(threshold, 2) && !self.is_due();
            if ripple { self.own_cycle(threshold) } else { self.timed(threshold) }
        } else if self.leak >= nearly {
            if self.speaks_for_itself() {
                Cause::Effort
            } else if self.is_due() && self.sensed < more(threshold, 3) {
                Cause::Timed
            } else {
                Cause::SelfLeak
            }
        } else if top >= nearly {
            let beyond = self.deflection > more(self.noise.reach, 1)
                && self.lead >= TriggerPhase::LEAST_LEAD;
            if self.ended_by_infant || beyond {
                Cause::Effort
            } else if self.is_due() && top < more(threshold, 3) {
                Cause::Timed
            } else {
                self.own_cycle(threshold)
            }
        } else if self.lead >= TriggerPhase::LEAST_LEAD && self.sensed >= threshold {
            Cause::Effort
        } else {
            self.timed(threshold)
        }
    }

    const fn is_due(&self) -> bool {
        matches!(self.on_time, Some(true))
    }

    /// The timer, unless it is known not to have been due: then what fired the trigger was not seen, the
    /// infant's where the infant ended the inspiration too.
    fn timed(&self, threshold: Flow) -> Cause {
        match self.on_time {
            Some(true) | None => Cause::Timed,
            Some(false) if self.ended_by_infant => Cause::Effort,
            Some(false) => self.own_cycle(threshold),
        }
    }

    /// A deflection that is long, beyond ripple, and either very large or borne out by an
    /// inspiration that the infant ended.
    fn speaks_for_itself(&self) -> bool {
        let twice = self.noise.reach.saturating_add(self.noise.reach).value;
        let six = twice.saturating_add(twice).value.saturating_add(twice).value;
        self.lead >= LONG_LEAD
            && (self.deflection > six || (self.ended_by_infant && self.deflection > twice))
    }

    /// Leak or ripple, whichever makes up more of the threshold.
    fn own_cycle(&self, threshold: Flow) -> Cause {
        let three_quarters = threshold.saturating_sub(threshold.halved(2)).value;
        if self.leak > three_quarters { Cause::SelfLeak } else { Cause::SelfRipple }
    }
}

/// Counts an inflation, and tells whether that is the way of these sensors.
fn remember(late: &mut u16, is_late: bool) -> bool {
    let more = late.saturating_add(LATE);
    *late = match (is_late, more >= LATE_FROM) {
        (false, _) => late.saturating_sub(1),
        (true, true) => LATE_KEPT,
        (true, false) => more,
    };
    *late >= LATE_FROM
}

/// What an inflation whose flow or pressure came late counts for against the others, from how much on it is late, and for
/// how many more without one: three in a row are late, for the sensors stay where they are. An infant who sets all off
/// shows none. Chosen on simulated infants, no source.
const LATE: u16 = 4;
const LATE_FROM: u16 = 12;
const LATE_KEPT: u16 = 1_000;
/// A rise of pressure that drives the flow. Chosen here, no source.
const HIGH: Pressure = Pressure::from_int(8);
/// A lag that hides a short effort from the trigger's side of the rise, at 100 Hz and more. Chosen here, no source.
const MUCH_LAG: Duration = Duration::from_millis(5);
/// No burst of water lasts so long on one side. Chosen here, no source.
const NO_BURST: Duration = Duration::from_millis(40);
/// A deflection on top of a leak that reaches the threshold needs this long to be believed. Chosen here, no source.
const LONG_LEAD: Duration = Duration::from_millis(25);
/// Muscle pressure that is the infant's: with other signs, alone, and against them. Chosen on simulated
/// infants, no source.
const SOME_PULL: Pressure = Pressure::from_milli(300).value;
const PULL: Pressure = Pressure::from_int(1);
const STRONG_PULL: Pressure = Pressure::from_milli(1_600).value;
/// Flow out of the lung under pressure that ripple does not make. Chosen here, no source.
const LEAST_EARLY_OUT: Flow = Flow::from_milli(2_500).value;

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
            Self::FlowLate => "flow comes after its pressure",
            Self::PressureLate => "pressure comes after its flow",
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
        let lpm = |flow: Flow| shown(flow.to_l_per_min(), 2);
        write!(
            f,
            ": the sensor saw {:.2} L/min (leak {:.2}) over {} before the pressure rose, threshold \
             ",
            lpm(e.sensed),
            lpm(e.leak),
            e.lead,
        )?;
        match e.threshold {
            Some(threshold) => write!(f, "{:.2}", lpm(threshold))?,
            None => f.write_str("not known")?,
        }
        f.write_str(", ripple and noise ")?;
        if e.noise.reach > Flow::ZERO {
            write!(f, "reach {:.2}", lpm(e.noise.reach))?;
        } else {
            f.write_str("not known")?;
        }
        if let Some(pull) = e.pull {
            write!(f, ", muscle pressure up by about {:.1}", pull.size)?;
        }
        if let Some(interval) = e.interval {
            write!(f, ", {interval} after the inflation before")?;
        }
        f.write_str(if e.ended_by_infant { "; the infant also ended it." } else { "." })
    }
}

#[cfg(test)]
mod tests;
