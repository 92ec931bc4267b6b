//! Limits of a quantity and the alarm on them.

use super::condition_timer::{Change, ConditionTimer, Rule};
use crate::quantity::{
    Duration, Instant, Pressure, Problem, Rate, SettingError, Share, Volume, arith, setting,
};
use crate::record;

mod sealed {
    pub trait Sealed: Sized {
        /// Raw bits: one step is 1/65 536 of the unit.
        fn bits(self) -> i32;
        /// From raw bits.
        fn of_bits(bits: i32) -> Self;
    }
}

/// A quantity that limits can be set on: volume, pressure, rate or share.
pub trait Measured: Copy + Ord + sealed::Sealed {}

macro_rules! measured {
    ($($name:ident),*) => {$(
        impl Measured for $name {}
        impl sealed::Sealed for $name {
            fn bits(self) -> i32 {
                self.to_bits()
            }
            fn of_bits(bits: i32) -> Self {
                Self::from_bits(bits)
            }
        }
    )*};
}

measured!(Volume, Pressure, Rate, Share);

/// A lower and an upper limit, either of which may be absent. A value equal to a limit does not
/// violate it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Limits<Q> {
    low: Option<Q>,
    high: Option<Q>,
}

impl<Q> Limits<Q> {
    /// No limit either way: nothing violates it, and no value is missed.
    const NONE: Self = Self { low: None, high: None };
}

impl<Q: Measured> Limits<Q> {
    /// Limits; the lower may equal the upper.
    ///
    /// # Errors
    /// One below zero, where no value of a breath stands; `low` above `high`.
    pub fn new(low: Option<Q>, high: Option<Q>) -> Result<Self, SettingError> {
        for (name, limit) in [("low", low), ("high", high)] {
            if limit.is_some_and(|limit| limit.bits() < 0) {
                return Err(SettingError::new(name, Problem::Negative));
            }
        }
        match (low, high) {
            (Some(l), Some(h)) if l > h => Err(SettingError::new("low", Problem::Inverted)),
            _ => Ok(Self { low, high }),
        }
    }

    /// The lower limit.
    #[must_use]
    pub const fn low(&self) -> Option<Q> {
        self.low
    }

    /// The upper limit.
    #[must_use]
    pub const fn high(&self) -> Option<Q> {
        self.high
    }

    /// Whether there is no limit.
    #[must_use]
    pub(crate) const fn is_open(&self) -> bool {
        self.low.is_none() && self.high.is_none()
    }
}

/// Longest delay of an alarm. Chosen here, no source.
const LONGEST_DELAY: Duration = Duration::from_millis(600_000);

/// An alarm on limits.
///
/// It rings once every value has violated a limit for `delay`, the first and the last of them at
/// least that far apart, and stops once a value stands inside by the `hysteresis`. The time up to a
/// missing value does not count; meanwhile an alarm stays as it is. Where no value comes for as long as
/// the delay, that rings as a condition of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LimitAlarm<Q> {
    limits: Limits<Q>,
    hysteresis: i32,
    rule: Rule,
}

record! {
    #[const_default]
    /// What one limit alarm remembers: 88 bytes.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct LimitState {
        last: Option<Instant>,
        low: ConditionTimer,
        high: ConditionTimer,
        missing: ConditionTimer,
    }
}

/// What one value changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[must_use]
#[doc(hidden)]
pub struct Changes {
    /// The alarm below the lower limit.
    pub low: Option<Change>,
    /// The alarm above the upper limit.
    pub high: Option<Change>,
    /// The technical alarm: there was no value.
    pub missing: Option<Change>,
}

impl Changes {
    pub(super) const fn any(self) -> bool {
        self.low.is_some() || self.high.is_some() || self.missing.is_some()
    }
}

impl<Q> LimitAlarm<Q> {
    /// No limits: it never rings.
    pub const NONE: Self = Self { limits: Limits::NONE, hysteresis: 0, rule: Rule::AT_ONCE };
}

impl<Q: Measured> LimitAlarm<Q> {
    /// An alarm with a delay of 0 to 10 minutes and a hysteresis of zero or more. One that latches
    /// rings until it is acknowledged and its condition is over. Without a delay each flagged breath rings "cannot
    /// be known".
    ///
    /// # Errors
    /// Names the parameter outside its range; a hysteresis wider than the limits are apart
    /// contradicts them.
    pub fn new(
        limits: Limits<Q>,
        delay: Duration,
        hysteresis: Q,
        latching: bool,
    ) -> Result<Self, SettingError> {
        if delay > LONGEST_DELAY {
            return Err(SettingError::new("delay", Problem::TooLarge));
        }
        let hysteresis = hysteresis.bits();
        if hysteresis < 0 {
            return Err(SettingError::new("hysteresis", Problem::Negative));
        }
        if let (Some(low), Some(high)) = (limits.low, limits.high)
            && arith::add(low.bits(), hysteresis).value > high.bits()
        {
            return Err(SettingError::new("hysteresis", Problem::Contradiction));
        }
        Ok(Self { limits, hysteresis, rule: Rule { delay, latching } })
    }

    /// How far inside a limit a value must stand to end it.
    #[must_use]
    pub fn hysteresis(&self) -> Q {
        Q::of_bits(self.hysteresis)
    }

    /// Whether it rings until it is acknowledged.
    #[must_use]
    pub const fn latching(&self) -> bool {
        self.rule.latching
    }

    /// The limits.
    #[must_use]
    pub const fn limits(&self) -> Limits<Q> {
        self.limits
    }

    /// How long a violation must last.
    #[must_use]
    pub const fn delay(&self) -> Duration {
        self.rule.delay
    }

    pub(super) const fn unlatched(mut self) -> Self {
        self.rule.latching = false;
        self
    }

    /// Takes a value, or that there is none. A moment not later than the last is ignored. Cost: a
    /// few comparisons.
    #[doc(hidden)]
    pub fn step(&self, state: &mut LimitState, at: Instant, value: Option<Q>) -> Changes {
        if self.limits.is_open() || state.last.is_some_and(|last| at <= last) {
            return Changes::default();
        }
        let since = state.last.replace(at).map_or(Duration::ZERO, |last| at.since(last));
        let technical = Rule { latching: false, ..self.rule };
        let missing = state.missing.step(at, value.is_none(), technical);
        let Some(value) = value else {
            state.low.pause(since);
            state.high.pause(since);
            return Changes { missing, ..Changes::default() };
        };
        let (low, high) = (self.is_low(state, value), self.is_high(state, value));
        Changes {
            low: state.low.step(at, low, self.rule),
            high: state.high.step(at, high, self.rule),
            missing,
        }
    }

    /// What it measures has ceased to be: no value is due, and none violates a limit.
    #[doc(hidden)]
    pub fn clear(&self, state: &mut LimitState, at: Instant) -> Changes {
        Changes {
            low: state.low.step(at, false, self.rule),
            high: state.high.step(at, false, self.rule),
            missing: state.missing.step(at, false, Rule::AT_ONCE),
        }
    }

    /// Where no limit is set, or none any more, nothing rings.
    pub(super) fn end_if_open(&self, state: &mut LimitState, at: Instant) -> Changes {
        if self.limits.is_open() { self.clear(state, at) } else { Changes::default() }
    }

    fn is_low(&self, state: &LimitState, value: Q) -> bool {
        self.limits.low.is_some_and(|low| {
            let inside = if state.low.is_on() { self.hysteresis } else { 0 };
            value.bits() < arith::add(low.bits(), inside).value
        })
    }

    fn is_high(&self, state: &LimitState, value: Q) -> bool {
        self.limits.high.is_some_and(|high| {
            let inside = if state.high.is_on() { self.hysteresis } else { 0 };
            value.bits() > arith::sub(high.bits(), inside).value
        })
    }
}

impl LimitState {
    /// Whether the alarm below the lower limit rings.
    #[must_use]
    pub const fn is_low(&self) -> bool {
        self.low.is_on()
    }

    /// Whether the alarm above the upper limit rings.
    #[must_use]
    pub const fn is_high(&self) -> bool {
        self.high.is_on()
    }

    /// Whether the technical alarm rings.
    #[must_use]
    pub const fn is_missing(&self) -> bool {
        self.missing.is_on()
    }

    /// The last moment taken.
    #[must_use]
    pub const fn last(&self) -> Option<Instant> {
        self.last
    }

    /// Whoever is responsible has seen what rings; latching alarms then stop with their condition,
    /// at the next step.
    pub const fn acknowledge(&mut self) {
        self.low.acknowledge();
        self.high.acknowledge();
        self.missing.acknowledge();
    }
}

setting! { Limits<Q: Measured> = new { low: Option<Q>, high: Option<Q> } }
setting! {
    LimitAlarm<Q: Measured> = new { limits: Limits<Q>, delay: Duration, hysteresis: Q, latching: bool }
}
