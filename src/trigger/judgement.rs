//! What the time under a threshold, and its worst stretch, say of it: keep, raise, lower, or none serves.

use super::{
    NoThreshold, NoiseFloor, Threshold, ThresholdAdvice, ThresholdOutlook, TriggerCounts,
    TriggerTally,
};
use crate::quantity::{Flow, Pressure, Share, shown};
use crate::record;
use core::fmt;

record! {
    /// The judgement, with what was counted.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[must_use]
    #[non_exhaustive]
    pub struct ThresholdJudgement {
        /// What follows.
        pub answer: ThresholdAnswer,
        /// All since the threshold was set.
        pub whole: TriggerCounts,
        /// The stretch of fifty in which the largest share was self-cycled; none before there was one.
        worst_cycled: TriggerCounts,
        /// The stretch of fifty in which the largest share of efforts was missed.
        worst_missed: TriggerCounts,
        /// Threshold less leak and reach of noise and ripple at the end; `None` where not known.
        pub margin: Option<Flow>,
        /// Leak or noise reached the threshold in half of the breaths and more, and yet the machine set
        /// hardly anything off by itself: it seems to take leak off its trigger signal.
        takes_off_leak: bool,
    }
}

record! {
    /// What follows for the threshold.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub enum ThresholdAnswer {
        /// Self-cycling, leak, noise and missed efforts are all low.
        Keep = 0,
        /// They are, but less than a step of the grid lies between leak and noise and the threshold.
        Just = 1,
        /// The machine sets itself off, or leak and noise reach the threshold: this one stands above.
        Raise(ThresholdOutlook) = 2,
        /// Efforts are missed: this one stands above leak and noise too.
        Lower(ThresholdOutlook) = 3,
        /// What clears leak or noise misses efforts.
        NoLevel(NoThreshold) = 4,
        /// It cannot be told.
        CannotTell(NoJudgement) = 5,
    }
}

record! {
    /// Why it cannot be told.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[non_exhaustive]
    pub enum NoJudgement {
        /// Fewer than twenty inflations since it was set, or fewer than twenty breaths with a floor.
        TooFew = 0,
        /// The flow sensor's zero stands off: it moves every flow that the threshold is held against.
        ZeroOff = 1,
        /// The cause of more than a quarter of the inflations is not known.
        CausesUnknown = 2,
        /// Fewer than twenty efforts were seen that it caught or missed in expiration, so that nothing tells
        /// whether the threshold is too high.
        FewEfforts = 3,
        /// Ripple moves the muscle pressure, and before more than half of the inflations no quiet flow showed
        /// how far it reaches.
        RippleUnseen = 4,
        /// Inflations that count as the infant's came as regularly as a clock: ripple or water may set them off.
        Clockwork = 5,
    }
}

/// Thresholds nearer than this are one. Chosen here, no source.
const LEAST_STEP: Flow = Flow::from_milli(1).value;
/// Fewer inflations say nothing. Chosen here, no source.
const LEAST: u32 = 20;
/// Self-cycling that is low over all and in the worst stretch: chosen here, no source.
const CYCLED: [Share; 2] = [Share::from_percent(2), Share::from_percent(10)];
/// Missed efforts that are few over all and in the worst stretch: a tenth is called severe asynchrony
/// (Anesthesiology 2021;134:629); chosen here for a stretch.
const MISSED: [Share; 2] = [Share::from_percent(10), Share::from_percent(25)];
const QUARTER: Share = Share::from_percent(25);
const HALF: Share = Share::from_percent(50);

/// What a threshold is judged by.
#[derive(Debug, Clone, Copy)]
#[doc(hidden)]
pub struct ThresholdEvidence<'a> {
    /// The threshold that is set.
    pub threshold: Threshold,
    /// Counts since it was set.
    pub tally: &'a TriggerTally,
    /// Of the efforts heard, the share too small for the step of the grid at or below it, for certain.
    pub missed_at_least: Option<Share>,
    /// The threshold advised by them.
    pub advice: ThresholdAdvice,
    /// The floor at the end.
    pub floor: Option<NoiseFloor>,
    /// Whether the flow sensor's zero is known to stand off.
    pub is_zero_off: bool,
    /// The grid's step.
    pub step: Flow,
    /// How far ripple moves the muscle pressure in the mean.
    pub ripple: Pressure,
}

impl ThresholdEvidence<'_> {
    /// Judges the whole time and its worst stretch. A handful of wide divides.
    pub fn judge(&self) -> ThresholdJudgement {
        let (whole, worst_cycled, worst_missed) =
            (*self.tally.whole(), *self.tally.worst_cycled(), *self.tally.worst_missed());
        let margin = self.threshold.check(self.floor).clearance;
        let reached = self.tally.reached_share().unwrap_or(Share::ZERO);
        let cycled = [whole.cycled_share(), worst_cycled.cycled_share()];
        let many = |shares: [Option<Share>; 2], most: [Share; 2]| {
            shares.into_iter().zip(most).any(|(share, most)| share.is_some_and(|s| s > most))
        };
        let takes_off_leak = whole.inflations >= LEAST && reached >= HALF && !many(cycled, CYCLED);
        let is_reached = reached > CYCLED[0] && !takes_off_leak;
        let below = margin.is_some_and(|margin| margin <= Flow::ZERO) && !takes_off_leak;
        let cycles = many(cycled, CYCLED) || is_reached || below;
        let few = whole.efforts() < LEAST;
        let misses = (!few && many([whole.missed_share(), worst_missed.missed_share()], MISSED))
            || self.missed_at_least.is_some_and(|missed| missed > MISSED[0]);
        let answer = if self.is_zero_off {
            ThresholdAnswer::CannotTell(NoJudgement::ZeroOff)
        } else if whole.inflations < LEAST
            || self.advice == ThresholdAdvice::None(NoThreshold::TooFewBreaths)
        {
            ThresholdAnswer::CannotTell(NoJudgement::TooFew)
        } else if cycles || (misses && !self.tally.is_clockwork()) {
            self.change(cycles, misses)
        } else if self.tally.is_clockwork() {
            ThresholdAnswer::CannotTell(NoJudgement::Clockwork)
        } else if whole.unknown_share().is_some_and(|unknown| unknown > QUARTER) {
            ThresholdAnswer::CannotTell(NoJudgement::CausesUnknown)
        } else if self.tally.has_ripple_unseen(self.ripple) {
            ThresholdAnswer::CannotTell(NoJudgement::RippleUnseen)
        } else if few {
            ThresholdAnswer::CannotTell(NoJudgement::FewEfforts)
        } else if margin.is_none_or(|margin| margin >= self.step) || takes_off_leak {
            ThresholdAnswer::Keep
        } else {
            ThresholdAnswer::Just
        };
        ThresholdJudgement { answer, whole, worst_cycled, worst_missed, margin, takes_off_leak }
    }

    /// Which other threshold serves.
    fn change(&self, cycles: bool, misses: bool) -> ThresholdAnswer {
        // One setting as two units write it may differ by a bit.
        let is_above = |a: Flow, b: Flow| a.saturating_sub(b).value > LEAST_STEP;
        let (set, on_leak) = (self.threshold.flow(), self.is_on_leak());
        match self.advice {
            ThresholdAdvice::None(NoThreshold::TooNoisy | NoThreshold::SealTheLeak) if cycles => {
                ThresholdAnswer::NoLevel(if on_leak {
                    NoThreshold::SealTheLeak
                } else {
                    NoThreshold::TooNoisy
                })
            }
            ThresholdAdvice::None(why) => ThresholdAnswer::NoLevel(why),
            ThresholdAdvice::Set(to) | ThresholdAdvice::AboveFloor(to)
                if cycles && !misses && is_above(to.threshold, set) =>
            {
                ThresholdAnswer::Raise(to)
            }
            ThresholdAdvice::Set(to) if misses && !cycles && is_above(set, to.threshold) => {
                ThresholdAnswer::Lower(to)
            }
            ThresholdAdvice::Set(_) | ThresholdAdvice::AboveFloor(_) if cycles => {
                ThresholdAnswer::NoLevel(if on_leak {
                    NoThreshold::SealTheLeak
                } else {
                    NoThreshold::TooNoisy
                })
            }
            ThresholdAdvice::Set(_) | ThresholdAdvice::AboveFloor(_) => {
                ThresholdAnswer::NoLevel(NoThreshold::EffortsMissed)
            }
        }
    }
}

impl ThresholdEvidence<'_> {
    /// Whether leak, rather than ripple or noise, sets the machine off.
    fn is_on_leak(&self) -> bool {
        let whole = self.tally.whole();
        match whole.self_cycled {
            0 => self.floor.is_some_and(|f| f.leak > f.noise.unwrap_or_default().reach),
            cycled => whole.on_leak.saturating_mul(2) >= cycled,
        }
    }
}

impl fmt::Display for NoJudgement {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::TooFew => "too few inflations since it was set",
            Self::ZeroOff => "the flow sensor's zero stands off",
            Self::CausesUnknown => "the cause of too many inflations is not known",
            Self::RippleUnseen => {
                "ripple moves the muscle pressure, and before most inflations no quiet flow showed how far \
                 it reaches"
            }
            Self::Clockwork => {
                "inflations that count as the infant's come as regularly as a clock: ripple or water may set them \
                 off"
            }
            Self::FewEfforts => {
                "too few efforts were caught or missed in expiration to tell whether it is too high"
            }
        })
    }
}

impl fmt::Display for ThresholdAnswer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Keep => f.write_str("nothing measured asks for another"),
            Self::Just => f.write_str(
                "just: less than a step of the grid lies between leak and noise and the threshold",
            ),
            Self::Raise(to) => write!(f, "raise to {:.2} L/min", to.threshold.to_l_per_min()),
            Self::Lower(to) => write!(f, "lower to {:.2} L/min", to.threshold.to_l_per_min()),
            Self::NoLevel(NoThreshold::SealTheLeak) => {
                f.write_str("no level serves: seal the leak first")
            }
            Self::NoLevel(NoThreshold::EffortsMissed) => {
                f.write_str(
                    "no level serves: efforts are missed, and no lower step stands above leak and noise",
                )
            }
            Self::NoLevel(_) => f.write_str("no level serves: find the noise first"),
            Self::CannotTell(why) => write!(f, "cannot tell: {why}"),
        }
    }
}

impl fmt::Display for ThresholdJudgement {
    /// One sentence with what was counted.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let whole = &self.whole;
        write!(
            f,
            "{}; {} of {} inflations were recognised as set off by the machine itself",
            self.answer, whole.self_cycled, whole.inflations
        )?;
        let worst = &self.worst_cycled;
        if worst.self_cycled > 0 {
            write!(f, " ({} of {} in the worst stretch)", worst.self_cycled, worst.inflations)?;
        }
        write!(f, ", {} of {} efforts in expiration were missed", whole.missed, whole.efforts())?;
        let worst = &self.worst_missed;
        if worst.missed > 0 {
            write!(f, " ({} of {} in the worst stretch)", worst.missed, worst.efforts())?;
        }
        if whole.unknown > 0 {
            write!(f, ", the cause of {} is not known", whole.unknown)?;
        }
        if let Some(margin) = self.margin {
            write!(f, "; margin over leak and noise {:.2} L/min", shown(margin.to_l_per_min(), 2))?;
        }
        if self.takes_off_leak {
            f.write_str(
                "; leak or noise reached the threshold and hardly set anything off, so the machine \
                 seems to take leak off its trigger signal",
            )?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests;
