//! What started an inflation.

use super::{Floor, Noise};
use crate::breath::{Breath, Kind};
use crate::quantity::{Flow, Moment, Problem, Rate, SettingError, Span};
use crate::record;
use core::fmt;

record! {
    /// What started an inflation.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
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
    pub enum NoCause {
        /// The breath carries a flag.
        Flagged = 0,
        /// No threshold was given, and without it neither leak nor ripple can be held against it.
        NoThreshold = 1,
        /// No quiet flow was seen and no leak is known yet.
        NoFloor = 2,
    }
}

record! {
    /// What a verdict rests on.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct Evidence {
        /// Largest flow at the sensor before the pressure rose: what the trigger saw.
        pub sensed: Flow,
        /// That flow above the leak: the infant's deflection, or ripple.
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
    pub struct Initiation {
        /// What started the inflation.
        pub cause: Cause,
        /// What the verdict rests on.
        pub evidence: Option<Evidence>,
    }
}

/// Settings of the verdict; by default neither threshold nor set rate is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct CauseCheck {
    threshold: Option<Flow>,
    period: Option<Span>,
}

record! {
    /// The inflation before, and where the pressure of the last that the set rate assures began to rise.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct CauseState {
        last: Option<Last>,
        assured: Option<Moment>,
    }
}

record! {
    /// An inflation's onset, and where its pressure began to rise.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    struct Last {
        onset: Moment,
        rise: Moment,
    }
}

impl CauseState {
    /// Since the onset of the last inflation; `None` before the first.
    #[must_use]
    pub fn since_inflation(&self, at: Moment) -> Option<Span> {
        self.last.map(|last| at.since(last.onset))
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

    /// Judges a closed breath against the floor known by then; `None` for an own breath.
    /// Additions and compares only.
    ///
    /// - A trigger that saw less than seven eighths of its threshold did not fire: the timer did.
    /// - A leak at the threshold is the cause, unless a long deflection beyond ripple speaks for the
    ///   infant, or the timer was due and the trigger saw little more than its threshold.
    /// - Where leak and ripple together reach the threshold, an inspiration that the infant ended or
    ///   a deflection beyond ripple is the infant's.
    /// - Else a deflection of at least 15 ms that reaches the threshold is the infant's.
    pub fn step(
        &self,
        state: &mut CauseState,
        breath: &Breath,
        floor: Option<Floor>,
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
        let Some(floor) = floor else { return unknown(NoCause::NoFloor) };
        let Some(threshold) = self.threshold else { return unknown(NoCause::NoThreshold) };
        let noise = floor.noise.unwrap_or_default();
        let evidence = Evidence {
            sensed: breath.lead.peak,
            deflection: breath.lead.peak.saturating_sub(floor.leak).value.max(Flow::ZERO),
            lead: breath.lead.until.since(breath.onset),
            leak: floor.leak,
            noise,
            threshold,
            interval,
            // A timer counts from rise to rise: an effort before it may have begun the breath sooner.
            on_time: self.is_on_time(state.assured.map(|last| breath.lead.until.since(last))),
            ended_by_infant: breath.is_ended_by_infant(LEAST_EARLY_OUT),
        };
        Some(Initiation { cause: evidence.cause(), evidence: Some(evidence) })
    }

    /// An interval of the set rate's period, less a twentieth, or more; the first is.
    fn is_on_time(&self, interval: Option<Span>) -> Option<bool> {
        let period = self.period?;
        let is_due = |interval: Span| interval.saturating_add(period.twentieth()) >= period;
        Some(interval.is_none_or(is_due))
    }
}

impl Evidence {
    fn cause(&self) -> Cause {
        let sum = |a: Flow, b: Flow| a.saturating_add(b).value;
        let less = |x: Flow, halvings: u32| x.saturating_sub(x.halved(halvings)).value;
        let more = |x: Flow, halvings: u32| sum(x, x.halved(halvings));
        let nearly = less(self.threshold, 4);
        let top = sum(self.leak, self.noise.reach);
        if self.sensed < less(self.threshold, 3) {
            // Nothing the trigger saw could have fired it.
            let ripple = top > more(self.threshold, 2) && !self.is_due();
            if ripple { self.own_cycle() } else { self.timed() }
        } else if self.leak >= nearly {
            if self.speaks_for_itself() {
                Cause::Effort
            } else if self.is_due() && self.sensed < more(self.threshold, 3) {
                Cause::Timed
            } else {
                Cause::SelfLeak
            }
        } else if top >= nearly {
            let beyond = self.deflection > more(self.noise.reach, 1) && self.lead >= LEAST_LEAD;
            if self.ended_by_infant || beyond {
                Cause::Effort
            } else if self.is_due() && top < more(self.threshold, 3) {
                Cause::Timed
            } else {
                self.own_cycle()
            }
        } else if self.lead >= LEAST_LEAD && self.sensed >= self.threshold {
            Cause::Effort
        } else {
            self.timed()
        }
    }

    const fn is_due(&self) -> bool {
        matches!(self.on_time, Some(true))
    }

    /// The timer, unless it is known not to have been due: then what fired the trigger was not seen, the
    /// infant's where the infant ended the inspiration too.
    fn timed(&self) -> Cause {
        match self.on_time {
            Some(true) | None => Cause::Timed,
            Some(false) if self.ended_by_infant => Cause::Effort,
            Some(false) => self.own_cycle(),
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
    fn own_cycle(&self) -> Cause {
        let three_quarters = self.threshold.saturating_sub(self.threshold.halved(2)).value;
        if self.leak > three_quarters { Cause::SelfLeak } else { Cause::SelfRipple }
    }
}

/// The machine's own flow can run ahead of its pressure for so long.
const LEAST_LEAD: Span = Span::from_millis(15);
/// A deflection on top of a leak that reaches the threshold needs this long to be believed.
const LONG_LEAD: Span = Span::from_millis(25);
/// Flow out of the lung under pressure that ripple does not make.
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

    /// Whether the machine started it, by its timer or on its own leak or ripple.
    #[must_use]
    pub const fn is_by_machine(self) -> bool {
        matches!(self, Self::Timed | Self::SelfLeak | Self::SelfRipple)
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
        let lpm = Flow::to_l_per_min;
        write!(
            f,
            ": the sensor saw {:.2} L/min (leak {:.2}) over {} before the pressure rose, threshold \
             {:.2}, ripple and noise ",
            lpm(e.sensed),
            lpm(e.leak),
            e.lead,
            lpm(e.threshold)
        )?;
        if e.noise.reach > Flow::ZERO {
            write!(f, "reach {:.2}", lpm(e.noise.reach))?;
        } else {
            f.write_str("not known")?;
        }
        if let Some(interval) = e.interval {
            write!(f, ", {interval} after the inflation before")?;
        }
        f.write_str(if e.ended_by_infant { "; the infant also ended it." } else { "." })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::breath::Lead;
    use std::string::ToString;

    fn ml_s(milli: i32) -> Flow {
        Flow::from_milli(milli).value
    }

    /// A threshold of 4 mL/s; leak, reach, what the trigger saw, all in mL/s/1000; lead in ms.
    fn evidence(leak: i32, reach: i32, sensed: i32, lead: u32) -> Evidence {
        Evidence {
            sensed: ml_s(sensed),
            deflection: ml_s(sensed - leak).max(Flow::ZERO),
            lead: Span::from_millis(lead),
            leak: ml_s(leak),
            noise: Noise { reach: ml_s(reach), spread: ml_s(reach / 3) },
            threshold: ml_s(4_000),
            interval: Some(Span::from_millis(900)),
            on_time: None,
            ended_by_infant: false,
        }
    }

    #[test]
    fn each_cause_has_its_evidence() {
        // Nothing near the threshold was seen: the timer.
        assert_eq!(evidence(500, 300, 900, 0).cause(), Cause::Timed);
        // 5 mL/s seen over 80 ms, leak and noise far below: the infant.
        assert_eq!(evidence(500, 300, 5_000, 80).cause(), Cause::Effort);
        // The same within 8 ms is the machine's own flow.
        assert_eq!(evidence(500, 300, 5_000, 8).cause(), Cause::Timed);
        // The leak alone is above: self-cycled, unless the infant clearly pulled.
        assert_eq!(evidence(4_500, 300, 4_600, 5).cause(), Cause::SelfLeak);
        let pulled = Evidence { ended_by_infant: true, ..evidence(4_500, 300, 9_000, 60) };
        assert_eq!(pulled.cause(), Cause::Effort);
        // On time with little more than the threshold seen, the timer came first.
        let due = Evidence { on_time: Some(true), ..evidence(4_200, 300, 4_300, 5) };
        assert_eq!(due.cause(), Cause::Timed);
        // A timer that was not due is never said: the infant where the infant ended the inspiration,
        // else the machine itself on what was not seen.
        let early = Evidence { on_time: Some(false), ..evidence(500, 300, 900, 0) };
        assert_eq!(early.cause(), Cause::SelfRipple);
        assert_eq!(Evidence { ended_by_infant: true, ..early }.cause(), Cause::Effort);
        // Ripple reaches it: 1 + 3.2 mL/s; an inspiration that the infant ended is the infant's.
        let ripple = evidence(1_000, 3_200, 4_100, 60);
        assert_eq!(ripple.cause(), Cause::SelfRipple);
        assert_eq!(Evidence { ended_by_infant: true, ..ripple }.cause(), Cause::Effort);
    }

    #[test]
    fn a_verdict_prints_as_one_sentence() {
        let evidence = evidence(500, 300, 5_000, 80);
        let initiation = Initiation { cause: evidence.cause(), evidence: Some(evidence) };
        assert_eq!(
            initiation.to_string(),
            "Started by the infant: the sensor saw 0.30 L/min (leak 0.03) over 0.080 s before the \
             pressure rose, threshold 0.24, ripple and noise reach 0.02, 0.900 s after the \
             inflation before."
        );
        let unknown = Initiation { cause: Cause::Unknown(NoCause::NoThreshold), evidence: None };
        assert_eq!(
            unknown.to_string(),
            "The cause cannot be told: no trigger threshold was given."
        );
    }

    #[test]
    fn settings_are_checked() {
        let error = CauseCheck::new(None, Some(Rate::from_int(-1))).unwrap_err();
        assert_eq!((error.parameter, error.problem), ("set_rate", Problem::Negative));
    }

    #[test]
    fn the_timer_counts_from_the_last_inflation_that_it_assures() {
        // 30 /min: due after 2 s, less a twentieth. At 0 s an assured one, at 1 s support, at 2 s due;
        // where the one at 1 s was assured too it is not.
        let check = CauseCheck::new(Some(ml_s(4_000)), Some(Rate::from_int(30))).unwrap();
        let floor = Some(Floor { leak: ml_s(500), ..Floor::default() });
        let on_time = |second_is_assured: bool| {
            let mut state = CauseState::default();
            let mut last = None;
            for s in 0..3 {
                let onset = Moment::from_us(s * 1_000_000);
                let lead = Lead { until: onset, ..Lead::default() };
                let breath = Breath { kind: Kind::Inflation, onset, lead, ..Breath::plain() };
                let initiation = check.step(&mut state, &breath, floor);
                last = initiation.and_then(|i| i.evidence).and_then(|e| e.on_time);
                if s == 0 || second_is_assured {
                    state.assured();
                }
            }
            last
        };
        assert_eq!((on_time(false), on_time(true)), (Some(true), Some(false)));
    }
}
