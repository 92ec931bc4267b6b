//! Says when an inflation has moved its limit of volume.
//!
//! The limiter advises: it computes when a volume limit would end an inflation, so that a second
//! check can hold that against what the machine did. It steers nothing.

use crate::quantity::unit::MlPerS;
use crate::quantity::{
    Area, Duration, Flow, Problem, Saturated, SettingError, Volume, arith, setting,
};
use crate::record;

/// A volume limit and the delay of what would act on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Limiter {
    limit: Area<MlPerS>,
    delay_us: u32,
}

record! {
    #[const_default]
    /// The inflation under way.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct LimiterState {
        phase: Phase,
        moved: Area<MlPerS>,
    }
}

record! {
    #[const_default(Idle)]
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    enum Phase {
        Idle = 0,
        Inflating = 1,
        Stopped = 2,
        Lost = 3,
    }
}

/// What an interval of flow meant for the limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[must_use]
pub enum LimiterOutcome {
    /// No inflation has begun, or it has been stopped already.
    Idle,
    /// Below the limit.
    Below,
    /// Readings were missing since the inflation began: what it moved is not known.
    Unknown,
    /// The limit is reached: volume moved, plus what still flows in during the delay, reached it
    /// in this interval. Comes once an inflation.
    Stop {
        /// Volume moved so far.
        moved: Saturated<Volume>,
    },
}

impl Limiter {
    /// A limit above zero, and the delay (at most 500 ms) between a stop and its effect.
    ///
    /// ```
    /// use tidevane::quantity::{Flow, Duration, Volume};
    /// use tidevane::volume::{Limiter, LimiterState, LimiterOutcome};
    ///
    /// // 5 mL at a steady 50 mL/s are reached after 100 ms.
    /// let limiter = Limiter::new(Volume::from_int(5), Duration::ZERO)?;
    /// let mut state = LimiterState::default();
    /// limiter.begin(&mut state, Volume::ZERO);
    /// let flow = Flow::from_int(50);
    /// let stopped = (1..=20).find(|_| {
    ///     let outcome = limiter.step(&mut state, Duration::from_millis(10), flow, flow);
    ///     matches!(outcome, LimiterOutcome::Stop { .. })
    /// });
    /// assert_eq!(stopped, Some(10));
    /// # Ok::<(), tidevane::quantity::SettingError>(())
    /// ```
    ///
    /// # Errors
    /// Names the parameter outside its range.
    pub const fn new(limit: Volume, delay: Duration) -> Result<Self, SettingError> {
        if !limit.is_above(Volume::ZERO) {
            Err(SettingError::new("limit", Problem::NotPositive))
        } else if delay.to_us() > 500_000 {
            Err(SettingError::new("delay", Problem::TooLarge))
        } else {
            Ok(Self { limit: Area::of_seconds(limit), delay_us: delay.to_short_us().value })
        }
    }

    /// How long it takes until an inflation ends.
    #[must_use]
    pub const fn delay(&self) -> Duration {
        Duration::from_us(arith::widen_u32(self.delay_us))
    }

    /// The volume at which it stops, delay aside.
    #[must_use]
    pub const fn limit(&self) -> Volume {
        // Made of a volume: exact, and within its range.
        self.limit.in_seconds().value
    }

    /// An inflation begins, having moved this much already.
    pub const fn begin(&self, state: &mut LimiterState, moved: Volume) {
        *state = LimiterState { phase: Phase::Inflating, moved: Area::of_seconds(moved) };
    }

    /// The inflation ended by itself.
    pub const fn end(&self, state: &mut LimiterState) {
        state.phase = Phase::Idle;
    }

    /// Readings are missing: what the inflation under way moves is not known any more. Whether one was
    /// under way.
    pub fn lose(&self, state: &mut LimiterState) -> bool {
        let under_way = state.phase == Phase::Inflating;
        if under_way {
            state.phase = Phase::Lost;
        }
        under_way
    }

    /// Takes the flow into the lung at both ends of an interval. With flow not corrected for leak
    /// the limit counts gas that never reaches the lung.
    ///
    /// Cost: two wide multiplies, no divide; the stop itself divides once. A higher limit never
    /// stops earlier. An interval of more than 35.8 minutes cannot be counted: it stops, and says so.
    pub fn step(
        &self,
        state: &mut LimiterState,
        span: Duration,
        from: Flow,
        to: Flow,
    ) -> LimiterOutcome {
        if state.phase != Phase::Inflating {
            let is_lost = state.phase == Phase::Lost;
            return if is_lost { LimiterOutcome::Unknown } else { LimiterOutcome::Idle };
        }
        let us = span.to_short_us();
        let moved = state.moved.plus(from.ramp(to, us.value));
        state.moved = moved.value;
        let saturated = moved.saturated || us.saturated;
        let coming = to.max(Flow::ZERO).over_short(self.delay_us);
        // Both are far from the ends of 64 bits: a volume, and what flows in half a second.
        if !saturated && state.moved < self.limit.wrapping_sub(coming) {
            return LimiterOutcome::Below;
        }
        state.phase = Phase::Stopped;
        let moved = state.moved.in_seconds();
        LimiterOutcome::Stop {
            moved: Saturated { saturated: saturated || moved.saturated, ..moved },
        }
    }
}

setting! { Limiter = new { limit: Volume, delay: Duration } }

#[cfg(test)]
mod tests {
    use super::*;

    const TEN_MS: Duration = Duration::from_millis(10);

    /// Steps of 10 ms at a steady flow until it stops.
    fn stops_after(limiter: &Limiter, flow: Flow) -> Option<(u32, Volume)> {
        let mut state = LimiterState::default();
        limiter.begin(&mut state, Volume::ZERO);
        (1..=1_000).find_map(|n| match limiter.step(&mut state, TEN_MS, flow, flow) {
            LimiterOutcome::Stop { moved } => Some((n, moved.value)),
            LimiterOutcome::Idle | LimiterOutcome::Below | LimiterOutcome::Unknown => None,
        })
    }

    #[test]
    fn five_ml_stop_at_five_ml() {
        // Common practice, no source: a limit of 5 mL stops an inflation at 5 mL.
        // 25 mL/s × 0.2 s = 5 mL: the 20th step of 10 ms.
        let limiter = Limiter::new(Volume::from_int(5), Duration::ZERO).unwrap();
        assert_eq!(stops_after(&limiter, Flow::from_int(25)), Some((20, Volume::from_int(5))));
    }

    #[test]
    fn what_flows_during_the_delay_counts() {
        // 25 mL/s × 0.04 s = 1 mL comes during the delay, so 4 mL moved are enough: 16 steps.
        let limiter = Limiter::new(Volume::from_int(5), Duration::from_millis(40)).unwrap();
        assert_eq!(stops_after(&limiter, Flow::from_int(25)), Some((16, Volume::from_int(4))));
    }

    #[test]
    fn stops_once_and_never_without_a_beginning() {
        let limiter = Limiter::new(Volume::from_int(1), Duration::ZERO).unwrap();
        let mut state = LimiterState::default();
        let flow = Flow::from_int(1_000);
        assert_eq!(limiter.step(&mut state, TEN_MS, flow, flow), LimiterOutcome::Idle);
        limiter.begin(&mut state, Volume::ZERO);
        assert!(matches!(
            limiter.step(&mut state, TEN_MS, flow, flow),
            LimiterOutcome::Stop { .. }
        ));
        assert_eq!(limiter.step(&mut state, TEN_MS, flow, flow), LimiterOutcome::Idle);
        limiter.begin(&mut state, Volume::ZERO);
        limiter.end(&mut state);
        assert_eq!(limiter.step(&mut state, TEN_MS, flow, flow), LimiterOutcome::Idle);
    }

    #[test]
    fn what_a_gap_hid_is_not_known() {
        let limiter = Limiter::new(Volume::from_int(5), Duration::ZERO).unwrap();
        let mut state = LimiterState::default();
        assert!(!limiter.lose(&mut state)); // nothing to lose
        limiter.begin(&mut state, Volume::ZERO);
        assert!(limiter.lose(&mut state) && !limiter.lose(&mut state));
        // However much flows: neither below nor reached, until the next inflation.
        let flow = Flow::from_int(1_000);
        assert_eq!(limiter.step(&mut state, TEN_MS, flow, flow), LimiterOutcome::Unknown);
        limiter.begin(&mut state, Volume::ZERO);
        assert!(matches!(
            limiter.step(&mut state, TEN_MS, flow, flow),
            LimiterOutcome::Stop { .. }
        ));
    }

    #[test]
    fn settings_are_checked() {
        assert!(Limiter::new(Volume::ZERO, Duration::ZERO).is_err());
        assert!(Limiter::new(Volume::from_int(5), Duration::from_us(500_001)).is_err());
    }
}
