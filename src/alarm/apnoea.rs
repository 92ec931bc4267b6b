//! No inspiration for too long.

use super::condition_timer::{Change, ConditionTimer, Rule};
use super::vital_signs::{ShortApnoea, VitalSigns};
use crate::quantity::{Duration, Instant, SettingError, const_default, setting};
use crate::record;

/// How long no inspiration is too long.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Apnoea {
    after: Duration,
    short: Option<ShortApnoea>,
    rule: Rule,
}

record! {
    #[const_default]
    /// Since when no inspiration came.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct ApnoeaState {
        since: Option<Instant>,
        /// How long the pause was that the latest inspiration ended; while the alarm outlives it, the
        /// longest since it began to ring.
        ended: Duration,
        ticked: Option<Instant>,
        signs: VitalSigns,
        watch: ConditionTimer,
    }
}

const_default! {
    /// 20 s (AAP clinical report 2016, Pediatrics 137:e20153757), not latching.
    Apnoea: Self { after: Duration::from_millis(20_000), short: None, rule: Rule::AT_ONCE }
}

impl Apnoea {
    /// 10 to 20 s.
    ///
    /// # Errors
    /// `after` outside its range.
    pub fn new(after: Duration, latching: bool) -> Result<Self, SettingError> {
        let (least, most) = (Duration::from_millis(10_000), Duration::from_millis(20_000));
        SettingError::within("after", after, least, most)?;
        Ok(Self { after, short: None, rule: Rule::at_once(latching) })
    }

    /// The shorter pause that rings with a slow heart or a low saturation.
    #[must_use]
    pub const fn short(&self) -> Option<ShortApnoea> {
        self.short
    }

    /// Whether it rings until it is acknowledged.
    #[must_use]
    pub const fn latching(&self) -> bool {
        self.rule.latching
    }

    fn of_parts(
        after: Duration,
        short: Option<ShortApnoea>,
        latching: bool,
    ) -> Result<Self, SettingError> {
        Self::new(after, latching).map(|apnoea| Self { short, ..apnoea })
    }

    /// The same, where a shorter pause counts too under a slow heart or a low saturation.
    #[must_use]
    pub const fn with_short(mut self, short: ShortApnoea) -> Self {
        self.short = Some(short);
        self
    }

    /// How long it takes to ring where heart and saturation are well or not known.
    #[must_use]
    pub const fn after(&self) -> Duration {
        self.after
    }

    /// What another monitor shows now; it stays so until the next call.
    #[doc(hidden)]
    pub const fn set_vital_signs(&self, state: &mut ApnoeaState, signs: VitalSigns) {
        state.signs = signs;
    }

    fn limit(&self, state: &ApnoeaState) -> Duration {
        let short = self.short.and_then(|short| short.after_with(state.signs));
        short.map_or(self.after, |short| short.min(self.after))
    }

    /// An inspiration, of infant or machine, began. One not later than the last is ignored. Where
    /// it came too late and no tick told so, the alarm rings now and stops at the next call. Told so late
    /// that the pause since is as long again, it rings on.
    #[doc(hidden)]
    pub fn inspiration(&self, state: &mut ApnoeaState, at: Instant) -> Option<Change> {
        if state.since.is_some_and(|since| at <= since) {
            return None;
        }
        let limit = self.limit(state);
        let late = state.since.is_some_and(|since| at.since(since) >= limit);
        let still = state.ticked.is_some_and(|tick| tick.since(at) >= limit);
        let pause = state.since.map_or(Duration::ZERO, |since| at.since(since));
        state.ended = if state.is_on() { state.ended.max(pause) } else { pause };
        state.since = Some(at);
        let present = still || (late && !state.watch.is_on());
        state.watch.step(at, present, self.rule)
    }

    /// Time passed: rings where that long or longer went by since the last inspiration, or since the
    /// first tick where there was none. A tick not later than the last is ignored.
    #[doc(hidden)]
    pub fn tick(&self, state: &mut ApnoeaState, at: Instant) -> Option<Change> {
        if state.ticked.is_some_and(|last| at <= last) {
            return None;
        }
        state.ticked = Some(at);
        let since = *state.since.get_or_insert(at);
        state.watch.step(at, at.since(since) >= self.limit(state), self.rule)
    }
}

impl ApnoeaState {
    /// Whether it rings.
    #[must_use]
    pub const fn is_on(&self) -> bool {
        self.watch.is_on()
    }

    /// The last inspiration, or the first tick.
    #[must_use]
    pub const fn since(&self) -> Option<Instant> {
        self.since
    }

    /// How long the pause is that rings, or was that has just ended; `None` before the first tick and
    /// the first inspiration.
    #[must_use]
    pub fn lasted(&self, at: Instant) -> Option<Duration> {
        let since = self.since?;
        Some(if self.is_on() { at.since(since).max(self.ended) } else { self.ended })
    }

    /// Whoever is responsible has seen it.
    pub const fn acknowledge(&mut self) {
        self.watch.acknowledge();
    }
}

setting! { Apnoea = of_parts { after: Duration, short: Option<ShortApnoea>, latching: bool } }

#[cfg(test)]
mod tests {
    use super::*;

    fn at(ms: u64) -> Instant {
        Instant::from_us(ms * 1_000)
    }

    #[test]
    fn twenty_seconds_and_not_a_moment_sooner() {
        // AAP 2016, Pediatrics 137:e20153757: 19.9 s no alarm, 20.0 s alarm.
        let apnoea = Apnoea::default();
        let mut state = ApnoeaState::default();
        assert_eq!(apnoea.inspiration(&mut state, at(1_000)), None);
        assert_eq!(apnoea.tick(&mut state, at(20_900)), None);
        assert_eq!(apnoea.tick(&mut state, Instant::from_us(20_999_999)), None);
        assert_eq!(apnoea.tick(&mut state, at(21_000)), Some(Change::On));
        assert_eq!(apnoea.tick(&mut state, at(22_000)), None);
        assert_eq!(apnoea.inspiration(&mut state, at(22_500)), Some(Change::Off));
    }

    #[test]
    fn a_shorter_pause_counts_with_a_slow_heart() {
        // AAP 2016, Pediatrics 137:e20153757: 20 s, or shorter with a slow heart or low saturation:
        // 12 s with a heart rate of 75 is one, 12 s with 140 is none, and 75 alone is none.
        let apnoea = Apnoea::default().with_short(ShortApnoea::default());
        let after_12_s = |heart_rate| {
            let mut state = ApnoeaState::default();
            apnoea.set_vital_signs(&mut state, VitalSigns { heart_rate, saturation: None });
            let _ = apnoea.inspiration(&mut state, at(0));
            assert_eq!(apnoea.tick(&mut state, at(9_999)), None);
            apnoea.tick(&mut state, at(12_000))
        };
        assert_eq!(after_12_s(Some(75)), Some(Change::On));
        assert_eq!(after_12_s(Some(140)), None);
        assert_eq!(after_12_s(None), None);
        // Without being told to, the alarm takes no notice of the heart.
        let mut state = ApnoeaState::default();
        Apnoea::default()
            .set_vital_signs(&mut state, VitalSigns { heart_rate: Some(75), saturation: None });
        let _ = Apnoea::default().inspiration(&mut state, at(0));
        assert_eq!(Apnoea::default().tick(&mut state, at(12_000)), None);
    }

    #[test]
    fn a_heart_that_recovers_ends_the_short_apnoea() {
        let apnoea = Apnoea::default().with_short(ShortApnoea::default());
        let mut state = ApnoeaState::default();
        let _ = apnoea.inspiration(&mut state, at(0));
        apnoea.set_vital_signs(&mut state, VitalSigns { heart_rate: Some(75), saturation: None });
        assert_eq!(apnoea.tick(&mut state, at(12_000)), Some(Change::On));
        apnoea.set_vital_signs(&mut state, VitalSigns { heart_rate: Some(140), saturation: None });
        assert_eq!(apnoea.tick(&mut state, at(13_000)), Some(Change::Off));
        assert_eq!(apnoea.tick(&mut state, at(20_000)), Some(Change::On));
    }

    #[test]
    fn without_any_breath_the_first_tick_counts() {
        let apnoea = Apnoea::new(Duration::from_millis(10_000), false).unwrap();
        let mut state = ApnoeaState::default();
        assert_eq!(apnoea.tick(&mut state, at(500)), None);
        assert_eq!(apnoea.tick(&mut state, at(10_499)), None);
        assert_eq!(apnoea.tick(&mut state, at(10_500)), Some(Change::On));
    }

    #[test]
    fn breaths_alone_show_it_too() {
        let apnoea = Apnoea::default();
        let mut state = ApnoeaState::default();
        assert_eq!(apnoea.inspiration(&mut state, at(0)), None);
        assert_eq!(apnoea.inspiration(&mut state, at(19_900)), None);
        assert_eq!(apnoea.inspiration(&mut state, at(39_900)), Some(Change::On));
        assert_eq!(apnoea.inspiration(&mut state, at(40_900)), Some(Change::Off));
    }

    #[test]
    fn an_inspiration_told_late_ends_it() {
        let apnoea = Apnoea::default();
        let mut state = ApnoeaState::default();
        let _ = apnoea.inspiration(&mut state, at(0));
        assert_eq!(apnoea.tick(&mut state, at(20_000)), Some(Change::On));
        assert_eq!(apnoea.inspiration(&mut state, at(19_950)), Some(Change::Off));
        // told so late that as long has passed since: it rings on
        let mut other = ApnoeaState::default();
        let _ = apnoea.inspiration(&mut other, at(0));
        assert_eq!(apnoea.tick(&mut other, at(30_000)), Some(Change::On));
        assert_eq!(apnoea.inspiration(&mut other, at(10_000)), None);
        assert!(other.is_on());
        // told twice, or out of order: ignored
        assert_eq!(apnoea.inspiration(&mut state, at(19_950)), None);
        assert_eq!(apnoea.inspiration(&mut state, at(1_000)), None);
        assert_eq!(state.since(), Some(at(19_950)));
    }

    #[test]
    fn settings_are_checked() {
        assert!(Apnoea::new(Duration::from_millis(9_999), false).is_err());
        assert!(Apnoea::new(Duration::from_millis(20_001), false).is_err());
    }
}
