//! Keeps the published tests along a stretch without inflations and without support.

use super::{Tally, TrendBreath};
use crate::alarm::VitalSigns;
use crate::bedside::{
    BelowShare, Entry, EntryLimits, EntryReport, MinuteVolumeRatio, OwnRun, RapidShallow,
    RatioOutcome, TimeBelow, TimeBelowState, TrialEvent, TrialOutcome, TrialState,
};
use crate::quantity::{Duration, Instant, Mass, MinuteVolumePerKg, Pressure, Rate, Share, Volume};

/// A heart slower than this, per minute, and a saturation lower than this, in percent, are events of
/// a breathing trial (Kamlin 2006, Arch Dis Child Fetal Neonatal Ed 91:F180-183; from memory).
pub(super) const SLOW_HEART: u16 = 100;
pub(super) const LOW_SATURATION: u8 = 85;

/// The published tests of readiness together, each by its published values: what a stretch without
/// inflations and without support is told (its begin, breaths, signs, end) reaches all of them.
///
/// The breathing trial's events come from another monitor's [`VitalSigns`]: a heart under 100/min, a
/// saturation under 85 %, and a watch that is lost where either is not shown. Nobody tells here
/// whether oxygen was raised, so a low saturation fails no trial. No verdict is drawn from the tests
/// together.
///
/// ```
/// use tidevane::alarm::VitalSigns;
/// use tidevane::quantity::Instant;
/// use tidevane::bedside::TrialOutcome;
/// use tidevane::trend::{Before, Readiness, ReadinessState};
///
/// let (readiness, mut state) = (Readiness::default(), ReadinessState::default());
/// let calm = VitalSigns { heart_rate: Some(150), saturation: Some(94) };
/// readiness.begin(&mut state, Instant::from_us(0), Before::default(), calm);
/// // After each closed breath: `readiness.breath(&mut state, report.breath.end,
/// // &report.for_trend(), report.minute_volume)`.
/// readiness.end(&mut state, Instant::from_us(200_000_000));
/// assert_eq!(state.trial(), TrialOutcome::Completed);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Readiness {
    weight: Option<Mass>,
    entry: EntryLimits,
    ratio: MinuteVolumeRatio,
    below: TimeBelow,
}

/// What held before a stretch, each `None` where it is not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Before {
    /// Minute volume with inflations, over the last minutes.
    pub mechanical: Option<Volume>,
    /// Inspired oxygen, as a share of 1.
    pub oxygen: Option<Share>,
    /// Peak pressure.
    pub peak: Option<Pressure>,
    /// Set rate.
    pub rate: Option<Rate>,
}

/// A stretch under way, or over.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ReadinessState {
    running: bool,
    from: Instant,
    to: Instant,
    before: Before,
    tally: Tally,
    below: TimeBelowState,
    trial: TrialState,
    slow: bool,
    low: bool,
    unwatched: bool,
}

impl Readiness {
    /// The same for an infant of this weight, by which volumes are judged.
    #[must_use]
    pub const fn with_weight(mut self, weight: Mass) -> Self {
        self.weight = Some(weight);
        self
    }

    /// A stretch begins; one that went before is forgotten. `signs` are those that stand now.
    pub fn begin(
        &self,
        state: &mut ReadinessState,
        at: Instant,
        before: Before,
        signs: VitalSigns,
    ) {
        *state =
            ReadinessState { running: true, from: at, to: at, before, ..ReadinessState::default() };
        state.trial.step(at, TrialEvent::Begins);
        self.set_vital_signs(state, at, signs);
    }

    /// What the other monitor shows from a moment on. Outside a stretch nothing changes.
    pub fn set_vital_signs(&self, state: &mut ReadinessState, at: Instant, signs: VitalSigns) {
        if !state.running {
            return;
        }
        let unwatched = signs.heart_rate.is_none() || signs.saturation.is_none();
        let slow = signs.heart_rate.is_some_and(|rate| rate < SLOW_HEART);
        let low = signs.saturation.is_some_and(|percent| percent < LOW_SATURATION);
        let was = (state.unwatched, state.slow, state.low);
        (state.unwatched, state.slow, state.low) = (unwatched, slow, low);
        for (was, now, begins, ends) in [
            (was.0, unwatched, TrialEvent::WatchLost, TrialEvent::WatchBack),
            (was.1, slow, TrialEvent::SlowHeartBegins, TrialEvent::SlowHeartEnds),
            (was.2, low, TrialEvent::LowSaturationBegins, TrialEvent::LowSaturationEnds),
        ] {
            if was != now {
                state.trial.step(at, if now { begins } else { ends });
            }
        }
    }

    /// Takes a closed breath that ended at `end`, with the minute volume that was given with it.
    /// Outside a stretch nothing changes. One divide where the weight is known.
    pub fn breath(
        &self,
        state: &mut ReadinessState,
        end: Instant,
        breath: &TrendBreath,
        minute_volume: Option<Volume>,
    ) {
        if !state.running {
            return;
        }
        state.tally.take(breath);
        let per_kg = minute_volume.filter(|_| breath.trusted).and_then(|v| self.of_weight(v));
        self.below.step(&mut state.below, breath.length, per_kg);
        state.until(end, TrialEvent::TimePasses);
    }

    /// Inflations or support are back, or the tube is out. Outside a stretch nothing changes.
    pub fn end(&self, state: &mut ReadinessState, at: Instant) {
        if state.running {
            state.until(at, TrialEvent::Stops);
            state.running = false;
        }
    }

    /// What was set before the stretch, beside the settings that the ratio was published from.
    #[must_use]
    pub fn entry(&self, state: &ReadinessState) -> EntryReport {
        let Before { oxygen, peak, rate, .. } = state.before;
        self.entry.check(&Entry { oxygen, peak, rate })
    }

    /// Own minute volume over that with inflations. One wide divide.
    pub fn ratio(&self, state: &ReadinessState) -> RatioOutcome {
        self.ratio.judge(&OwnRun {
            lasted: state.lasted(),
            breaths: state.tally.breaths().into(),
            own: state.tally.minute_volume(),
            mechanical: state.before.mechanical,
        })
    }

    /// The share of time with a minute volume below the published threshold.
    pub fn below(&self, state: &ReadinessState) -> BelowShare {
        self.below.share(&state.below)
    }

    /// Own minute volume for each kilogram; `None` without breaths or weight, or out of range.
    #[must_use]
    pub fn own_per_kg(&self, state: &ReadinessState) -> Option<MinuteVolumePerKg> {
        self.of_weight(state.tally.minute_volume()?)
    }

    /// Rate over volume per kilogram of the stretch's breaths; `None` without breaths or weight.
    #[must_use]
    pub fn rapid_shallow(&self, state: &ReadinessState) -> Option<RapidShallow> {
        state.tally.rapid_shallow(self.weight?)
    }

    fn of_weight(&self, volume: Volume) -> Option<MinuteVolumePerKg> {
        MinuteVolumePerKg::of(volume, self.weight?).within()
    }
}

impl ReadinessState {
    fn until(&mut self, at: Instant, event: TrialEvent) {
        self.to = self.to.max(at);
        self.trial.step(self.to, event);
    }

    /// From its begin to its latest breath, or to its end.
    #[must_use]
    pub const fn lasted(&self) -> Duration {
        self.to.since(self.from)
    }

    /// What held before it.
    #[must_use]
    pub const fn before(&self) -> &Before {
        &self.before
    }

    /// Sums over its breaths.
    #[must_use]
    pub const fn tally(&self) -> &Tally {
        &self.tally
    }

    /// What the breathing trial has come to.
    pub const fn trial(&self) -> TrialOutcome {
        self.trial.outcome()
    }

    /// How long the heart was slow in the breathing trial, spells that last included.
    #[must_use]
    pub const fn slow_heart(&self) -> Duration {
        self.trial.totals().slow_heart
    }

    /// How long the saturation was low in it.
    #[must_use]
    pub const fn low_saturation(&self) -> Duration {
        self.trial.totals().low_saturation
    }

    /// Time with a minute volume below the published threshold.
    #[must_use]
    pub const fn time_below(&self) -> Duration {
        self.below.spans().below
    }
}

#[cfg(test)]
mod tests;
