//! No inspiration for too long.

use super::watch::{Change, Rule, Watch};
use crate::quantity::{Moment, SettingError, Span};

/// How long no inspiration is too long.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Apnoea {
    after: Span,
    rule: Rule,
}

/// Since when no inspiration came.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ApnoeaState {
    since: Option<Moment>,
    ticked: Option<Moment>,
    watch: Watch,
}

impl Default for Apnoea {
    /// 20 s (AAP clinical report 2016, Pediatrics 137:e20153757), not latching.
    fn default() -> Self {
        Self { after: Span::from_millis(20_000), rule: Rule::AT_ONCE }
    }
}

impl Apnoea {
    /// 10 to 20 s. The report's shorter apnoea with slow heart or low saturation needs signals
    /// that this crate does not have.
    ///
    /// # Errors
    /// `after` outside its range.
    pub fn new(after: Span, latching: bool) -> Result<Self, SettingError> {
        let (least, most) = (Span::from_millis(10_000), Span::from_millis(20_000));
        SettingError::within("apnoea_after", after, least, most)?;
        Ok(Self { after, rule: Rule::at_once(latching) })
    }

    /// How long it takes to ring.
    #[must_use]
    pub const fn after(&self) -> Span {
        self.after
    }

    /// An inspiration, of infant or machine, began. One not later than the last is ignored. Where
    /// it came too late and no tick told so, the alarm rings now and stops at the next call.
    pub fn inspiration(&self, state: &mut ApnoeaState, at: Moment) -> Option<Change> {
        if state.since.is_some_and(|since| at <= since) {
            return None;
        }
        let late = state.since.is_some_and(|since| at.since(since) >= self.after);
        let still = state.ticked.is_some_and(|tick| tick.since(at) >= self.after);
        state.since = Some(at);
        let present = still || (late && !state.watch.is_on());
        state.watch.step(at, present, self.rule)
    }

    /// Time passed: rings where `after` or more went by since the last inspiration, or since the
    /// first tick where there was none. A tick not later than the last is ignored.
    pub fn tick(&self, state: &mut ApnoeaState, at: Moment) -> Option<Change> {
        if state.ticked.is_some_and(|last| at <= last) {
            return None;
        }
        state.ticked = Some(at);
        let since = *state.since.get_or_insert(at);
        state.watch.step(at, at.since(since) >= self.after, self.rule)
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
    pub const fn since(&self) -> Option<Moment> {
        self.since
    }

    /// Whoever is responsible has seen it.
    pub const fn acknowledge(&mut self) {
        self.watch.acknowledge();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(ms: u64) -> Moment {
        Moment::from_us(ms * 1_000)
    }

    #[test]
    fn twenty_seconds_and_not_a_moment_sooner() {
        // AAP 2016, Pediatrics 137:e20153757: 19.9 s no alarm, 20.0 s alarm.
        let apnoea = Apnoea::default();
        let mut state = ApnoeaState::default();
        assert_eq!(apnoea.inspiration(&mut state, at(1_000)), None);
        assert_eq!(apnoea.tick(&mut state, at(20_900)), None);
        assert_eq!(apnoea.tick(&mut state, Moment::from_us(20_999_999)), None);
        assert_eq!(apnoea.tick(&mut state, at(21_000)), Some(Change::On));
        assert_eq!(apnoea.tick(&mut state, at(22_000)), None);
        assert_eq!(apnoea.inspiration(&mut state, at(22_500)), Some(Change::Off));
    }

    #[test]
    fn without_any_breath_the_first_tick_counts() {
        let apnoea = Apnoea::new(Span::from_millis(10_000), false).unwrap();
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
        assert!(Apnoea::new(Span::from_millis(9_999), false).is_err());
        assert!(Apnoea::new(Span::from_millis(20_001), false).is_err());
    }
}
