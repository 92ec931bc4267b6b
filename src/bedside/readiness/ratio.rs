//! The infant's own minute volume without inflations, as a share of that with them.

use crate::quantity::{Duration, Share, Volume};
use core::fmt;

/// What the own minute volume must reach, and for how long it must be seen.
///
/// Published as: 50 % over 10 minutes of pressure through the tube without inflations (Wilson 1998,
/// J Perinatol 18:436-439). 30 of the 35 who reached it stayed without the tube for 24 hours.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(crate) struct MinuteVolumeRatio {
    least: Share,
    lasting: Duration,
    breaths: u32,
}

/// A run without inflations, beside what was moved with them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(crate) struct OwnRun {
    /// How long it lasted.
    pub lasted: Duration,
    /// How many trusted breaths were seen.
    pub breaths: u32,
    /// Own minute volume in it; `None` where it is not known.
    pub own: Option<Volume>,
    /// Minute volume before it, with inflations.
    pub mechanical: Option<Volume>,
}

/// What the run came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[must_use]
pub enum RatioOutcome {
    /// The least share was reached.
    Reached(Share),
    /// It was not.
    NotReached(Share),
    /// It cannot be known.
    Unknown(NoRatio),
}

/// Why the ratio cannot be known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum NoRatio {
    /// The run was too short.
    TooShort,
    /// Too few breaths were seen.
    TooFewBreaths,
    /// The own minute volume is not known, or below zero.
    NoOwn,
    /// The minute volume with inflations is not known, or not above zero.
    NoMechanical,
    /// The ratio is beyond 32 768.
    OutOfRange,
}

impl Default for MinuteVolumeRatio {
    /// 50 % over 10 minutes as published; and at least 100 breaths, a choice of this crate: ten a
    /// minute.
    fn default() -> Self {
        Self {
            least: Share::from_percent(50),
            lasting: Duration::from_millis(600_000),
            breaths: 100,
        }
    }
}

impl MinuteVolumeRatio {
    /// The share, toward zero, and whether it reaches the least. One wide divide.
    pub(crate) fn judge(&self, run: &OwnRun) -> RatioOutcome {
        match self.ratio(run) {
            Ok(share) if share >= self.least => RatioOutcome::Reached(share),
            Ok(share) => RatioOutcome::NotReached(share),
            Err(why) => RatioOutcome::Unknown(why),
        }
    }

    fn ratio(&self, run: &OwnRun) -> Result<Share, NoRatio> {
        if run.lasted < self.lasting {
            return Err(NoRatio::TooShort);
        }
        if run.breaths < self.breaths {
            return Err(NoRatio::TooFewBreaths);
        }
        let own = run.own.filter(|own| *own >= Volume::ZERO).ok_or(NoRatio::NoOwn)?;
        let mechanical =
            run.mechanical.filter(|m| *m > Volume::ZERO).ok_or(NoRatio::NoMechanical)?;
        own.share_of(mechanical).and_then(|share| share.within()).ok_or(NoRatio::OutOfRange)
    }
}

impl fmt::Display for RatioOutcome {
    /// One sentence.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Reached(share) => {
                write!(f, "own minute volume {:.1} %: reached", share.to_percent().value)
            }
            Self::NotReached(share) => {
                write!(f, "own minute volume {:.1} %: not reached", share.to_percent().value)
            }
            Self::Unknown(why) => write!(f, "own minute volume cannot be judged: {why}"),
        }
    }
}

impl fmt::Display for NoRatio {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::TooShort => "the run was too short",
            Self::TooFewBreaths => "too few breaths were seen",
            Self::NoOwn => "it is not known",
            Self::NoMechanical => "the minute volume with inflations is not known",
            Self::OutOfRange => "the ratio is out of range",
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::string::ToString;

    fn run(own: i16, mechanical: i16) -> OwnRun {
        OwnRun {
            lasted: Duration::from_millis(600_000),
            breaths: 400,
            own: Some(Volume::from_int(own)),
            mechanical: Some(Volume::from_int(mechanical)),
        }
    }

    #[test]
    fn half_is_enough_and_less_is_not() {
        // Wilson 1998, J Perinatol 18:436: at least 50 % over 10 min. 120 ÷ 240 = 0.5; 119 ÷ 240 =
        // 0.4958.
        let test = MinuteVolumeRatio::default();
        assert_eq!(test.judge(&run(120, 240)), RatioOutcome::Reached(Share::from_percent(50)));
        let below = test.judge(&run(119, 240));
        assert!(matches!(below, RatioOutcome::NotReached(_)));
        assert_eq!(below.to_string(), "own minute volume 49.6 %: not reached");
        assert_eq!(test.judge(&run(0, 240)), RatioOutcome::NotReached(Share::ZERO));
    }

    #[test]
    fn what_was_not_seen_is_not_judged() {
        let test = MinuteVolumeRatio::default();
        let good = run(120, 240);
        let why = |run: OwnRun| match test.judge(&run) {
            RatioOutcome::Unknown(why) => why,
            RatioOutcome::Reached(share) | RatioOutcome::NotReached(share) => panic!("{share}"),
        };
        let short = Duration::from_us(599_999_999);
        assert_eq!(why(OwnRun { lasted: short, ..good }), NoRatio::TooShort);
        assert_eq!(why(OwnRun { breaths: 99, ..good }), NoRatio::TooFewBreaths);
        let enough = test.judge(&OwnRun { breaths: 100, ..good });
        assert_eq!(enough, RatioOutcome::Reached(Share::from_percent(50)));
        assert_eq!(why(OwnRun { own: None, ..good }), NoRatio::NoOwn);
        assert_eq!(why(run(-1, 240)), NoRatio::NoOwn);
        assert_eq!(why(OwnRun { mechanical: None, ..good }), NoRatio::NoMechanical);
        assert_eq!(why(run(120, 0)), NoRatio::NoMechanical);
        let least = Some(Volume::STEP);
        assert_eq!(why(OwnRun { mechanical: least, ..good }), NoRatio::OutOfRange);
    }
}
