//! How the infant fares within a step of weaning: minutes against the step's own beginning.

use super::{Tally, TrendBreath};
use crate::bedside::anatomical_dead_space;
use crate::quantity::{Duration, Instant, Mass, SettingError, Volume, const_default, setting};
use crate::record;

const MINUTE: Duration = Duration::from_millis(60_000);
/// After this long without a closed breath nothing before it is compared with anything after. Chosen here, no source.
const BROKEN: Duration = Duration::from_millis(300_000);
/// A breath counts for this long at most. Chosen here, no source.
const LONGEST: Duration = Duration::from_millis(20_000);
/// How many minutes the recent window holds. Chosen here, no source.
const RECENT: usize = 3;

/// How a step's beginning is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Trend {
    settle: u8,
    baseline: u8,
    dead_space: Option<Volume>,
}

record! {
    #[const_default]
    /// The minutes of the present step: 408 bytes.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct TrendState {
        /// When the step began; nothing was taken before it is there.
        step: Option<Instant>,
        /// When the minute under way began, and the last breath closed.
        since: Instant,
        latest: Instant,
        minute: Tally,
        recent: [Tally; RECENT],
        minutes: u16,
        /// What a breath of each kind usually moves; a sixteenth of the way follows each.
        usual: [Volume; 3],
        baseline: Tally,
        /// Empty where there was no step before.
        before: Tally,
    }
}

const_default! {
    /// One minute to settle, three for the baseline: chosen here, no source.
    Trend: Self { settle: 1, baseline: 3, dead_space: None }
}

impl Trend {
    /// Minutes after a step that are left out (0 to 10), and those after them that make its
    /// baseline (1 to 10).
    ///
    /// # Errors
    /// Names the parameter outside its range.
    pub fn new(settle: u8, baseline: u8) -> Result<Self, SettingError> {
        SettingError::within("settle_minutes", settle, 0, 10)?;
        SettingError::within("baseline_minutes", baseline, 1, 10)?;
        Ok(Self { settle, baseline, dead_space: None })
    }

    /// Minutes after a step that are not counted.
    #[must_use]
    pub const fn settle_minutes(&self) -> u8 {
        self.settle
    }

    /// Minutes that its beginning is taken over.
    #[must_use]
    pub const fn baseline_minutes(&self) -> u8 {
        self.baseline
    }

    const fn dead_space(&self) -> Option<Volume> {
        self.dead_space
    }

    fn of_parts(
        settle: u8,
        baseline: u8,
        dead_space: Option<Volume>,
    ) -> Result<Self, SettingError> {
        Self::new(settle, baseline).map(|trend| Self { dead_space, ..trend })
    }

    /// No weight tells of a dead space any more.
    pub(crate) const fn without_weight(mut self) -> Self {
        self.dead_space = None;
        self
    }

    /// With the patient's weight, by which breaths under the dead space are told: the whole anatomical
    /// one of a newborn.
    #[must_use]
    pub(crate) fn with_weight(mut self, mass: Mass) -> Self {
        self.dead_space = Some(anatomical_dead_space(mass, Duration::ZERO).value);
        self
    }

    /// Takes a breath that closed at a moment; true where a minute ended with it. A moment not
    /// later than the last is ignored. A minute ends with the first breath that closes after it, so
    /// it can be a breath longer. After five minutes without a breath the trend begins anew.
    #[doc(hidden)]
    pub fn breath(&self, state: &mut TrendState, at: Instant, breath: &TrendBreath) -> bool {
        let begun = state.step.is_some();
        if begun && at <= state.latest {
            return false;
        }
        if !begun || at.since(state.latest) > BROKEN {
            *state = TrendState { step: Some(at), since: at, ..TrendState::default() };
        }
        state.latest = at;
        state.take(breath, self.dead_space);
        if at.since(state.since) < MINUTE {
            return false;
        }
        state.since = at;
        self.close(state);
        true
    }

    /// Takes an effort that got no inflation.
    #[doc(hidden)]
    pub const fn missed(&self, state: &mut TrendState) {
        state.minute.miss();
    }

    /// A step begins: the minutes before it are kept to hold it against, the minute under way is dropped,
    /// and a baseline is taken anew.
    #[doc(hidden)]
    pub fn rebase(&self, state: &mut TrendState, at: Instant) {
        *state = TrendState {
            step: Some(at),
            since: at,
            latest: at.max(state.latest),
            usual: state.usual,
            before: state.recent().unwrap_or_default(),
            ..TrendState::default()
        };
    }

    /// Whether the baseline of the present step is whole.
    #[must_use]
    #[doc(hidden)]
    pub fn has_baseline(&self, state: &TrendState) -> bool {
        let needed = self.settle.saturating_add(self.baseline);
        state.minutes >= u16::from(needed)
    }

    /// Whether the recent window lies wholly after the baseline.
    pub(super) fn is_past_baseline(&self, state: &TrendState) -> bool {
        let needed = u16::from(self.settle).saturating_add(self.baseline.into()).saturating_add(3);
        state.minutes >= needed
    }

    fn close(&self, state: &mut TrendState) {
        let minute = core::mem::take(&mut state.minute);
        state.minutes = state.minutes.saturating_add(1);
        let settle = u16::from(self.settle);
        if state.minutes > settle && state.minutes <= settle.saturating_add(self.baseline.into()) {
            state.baseline = state.baseline.with(&minute);
        }
        let [_, second, third] = state.recent;
        state.recent = [second, third, minute];
    }
}

impl TrendState {
    /// Counts a breath so that no single one decides: its volume up to twice what its kind usually moves, its length
    /// up to 20 s (longer ones are the apnoea alarm's).
    fn take(&mut self, breath: &TrendBreath, dead_space: Option<Volume>) {
        let mut breath = *breath;
        breath.length = breath.length.min(LONGEST);
        let usual = self.usual.get_mut(breath.kind.index());
        if let Some((volume, usual)) = breath.volume.filter(|_| breath.trusted).zip(usual) {
            if *usual == Volume::ZERO {
                *usual = volume;
            }
            let most = usual.saturating_add(*usual).value;
            let volume = volume.min(most).max(Volume::ZERO);
            *usual = usual.lowpass(volume, 4);
            breath.volume = Some(volume);
            breath.shallow = dead_space.is_some_and(|space| volume < space);
        }
        self.minute.take(&breath);
    }

    /// The last three whole minutes; `None` before there are as many.
    #[must_use]
    pub fn recent(&self) -> Option<Tally> {
        let [first, second, third] = &self.recent;
        (self.minutes >= 3).then(|| first.with(second).with(third))
    }

    /// The beginning of the present step, as far as it has been taken.
    #[must_use]
    pub const fn baseline(&self) -> &Tally {
        &self.baseline
    }

    /// The last three minutes of the step before, where it had as many.
    #[must_use]
    pub fn before(&self) -> Option<&Tally> {
        Some(&self.before).filter(|before| before.breaths() > 0)
    }

    /// When the present step began; `None` before the first breath.
    #[must_use]
    pub const fn step(&self) -> Option<Instant> {
        self.step
    }

    /// When the last breath closed.
    pub(crate) const fn latest(&self) -> Instant {
        self.latest
    }

    /// Whole minutes since then.
    #[must_use]
    pub const fn minutes(&self) -> u16 {
        self.minutes
    }
}

setting! { Trend = of_parts { settle_minutes: u8, baseline_minutes: u8, dead_space: Option<Volume> } }

#[cfg(test)]
mod tests {
    use super::*;
    use crate::alarm::BreathKind;
    use crate::quantity::Rate;
    use crate::trend::tally::tests::breath;

    fn at(seconds: u64) -> Instant {
        Instant::from_us(seconds * 1_000_000)
    }

    /// Own breaths of a length from one second to another; how many minutes ended.
    fn breathe(state: &mut TrendState, from: u64, to: u64, every: u64) -> usize {
        let length = u32::try_from(every * 1_000).unwrap();
        let own = breath(BreathKind::Own, length, 4_000);
        let times = (from + every..=to).step_by(usize::try_from(every).unwrap());
        times.filter(|t| Trend::default().breath(state, at(*t), &own)).count()
    }

    #[test]
    fn large_breaths_among_small_ones_keep_their_size() {
        // Own breaths of 1.4 mL each second, but for each sixth an inflation of 6.1: its mean is that, not twice the
        // usual of all. A single one of 61 counts as twice 6.1: of 30 in three minutes (29 x 6.1 + 12.2) / 30 = 6.3.
        let mut state = TrendState::default();
        for second in 1..=430 {
            let (kind, thousandths) = match second {
                410 => (BreathKind::Assured, 61_000),
                n if n % 6 == 2 => (BreathKind::Assured, 6_100),
                _ => (BreathKind::Own, 1_400),
            };
            Trend::default().breath(&mut state, at(second), &breath(kind, 1_000, thousandths));
            if second == 400 {
                let mean = state.recent().and_then(|t| t.volume(BreathKind::Assured)).unwrap();
                assert_eq!(std::format!("{mean:.2}"), "6.10 mL");
            }
        }
        let mean = state.recent().and_then(|t| t.volume(BreathKind::Assured)).unwrap();
        assert_eq!(std::format!("{mean:.1}"), "6.3 mL");
    }

    #[test]
    fn a_step_has_its_own_beginning() {
        // One breath a second for ten minutes: 60/min. At 600 s a step; then one every two seconds.
        let mut state = TrendState::default();
        assert_eq!(breathe(&mut state, 0, 600, 1), 9);
        assert_eq!((state.step(), state.minutes()), (Some(at(1)), 9));
        assert!(Trend::default().has_baseline(&state));
        assert_eq!(state.recent().and_then(|t| t.rate()), Some(Rate::from_int(60)));
        Trend::default().rebase(&mut state, at(600));
        assert_eq!((state.step(), state.minutes()), (Some(at(600)), 0));
        assert_eq!(state.before().and_then(|t| t.rate()), Some(Rate::from_int(60)));
        assert_eq!(state.recent(), None);
        // The first minute settles, the next three make the baseline.
        assert_eq!(breathe(&mut state, 600, 660, 2), 1);
        assert_eq!(state.baseline().breaths(), 0);
        assert_eq!(breathe(&mut state, 660, 840, 2), 3);
        assert_eq!(
            (state.baseline().breaths(), state.baseline().rate()),
            (90, Some(Rate::from_int(30)))
        );
        assert!(Trend::default().has_baseline(&state));
        // Later minutes do not move it.
        assert_eq!(breathe(&mut state, 840, 1_200, 1), 6);
        assert_eq!(state.baseline().breaths(), 90);
        assert_eq!(state.recent().and_then(|t| t.rate()), Some(Rate::from_int(60)));
    }

    #[test]
    fn a_long_silence_begins_anew() {
        let mut state = TrendState::default();
        breathe(&mut state, 0, 600, 1);
        // 300 s are bridged, more are not.
        let own = breath(BreathKind::Own, 1_000, 4_000);
        let mut bridged = state;
        assert!(Trend::default().breath(&mut bridged, at(900), &own));
        assert_eq!(bridged.minutes(), 10);
        assert!(!Trend::default().breath(&mut state, at(901), &own));
        assert_eq!((state.step(), state.minutes(), state.recent()), (Some(at(901)), 0, None));
    }

    #[test]
    fn disorder_is_ignored_and_settings_are_checked() {
        let mut state = TrendState::default();
        breathe(&mut state, 0, 100, 1);
        let same = state;
        let own = breath(BreathKind::Own, 1_000, 4_000);
        assert!(!Trend::default().breath(&mut state, at(100), &own));
        assert!(!Trend::default().breath(&mut state, at(3), &own));
        assert_eq!(state, same);
        let wrong = |a, b| Trend::new(a, b).map_err(|e| e.parameter).err();
        assert_eq!(wrong(11, 3), Some("settle_minutes"));
        assert_eq!(wrong(1, 0), Some("baseline_minutes"));
        assert_eq!(wrong(0, 1), None);
        let other = Trend::new(4, 6).unwrap();
        assert_eq!((other.settle_minutes(), other.baseline_minutes()), (4, 6));
    }

    #[test]
    fn breaths_just_as_large_as_the_dead_space_are_not_under_it() {
        // 3.125 kg: 10.25 mL. In a second each, behind a first that begins the step.
        let mass = Mass::from_grams(3_125).unwrap();
        let weighed = Trend::default().with_weight(mass);
        assert_eq!(weighed.dead_space(), Some(Volume::from_milli(10_250).value));
        let shallow = |trend: Trend, thousandths: i32| {
            let mut state = TrendState::default();
            for second in 1..=3 {
                let own = breath(BreathKind::Own, 1_000, thousandths);
                let _ = trend.breath(&mut state, at(second), &own);
            }
            state.minute.shallow()
        };
        assert_eq!((shallow(weighed, 10_250), shallow(weighed, 10_249)), (0, 3));
        assert_eq!(shallow(Trend::default(), 1_000), 0);
    }

    #[test]
    fn a_baseline_is_whole_after_its_minutes_and_those_to_settle() {
        let whole = |minutes| {
            let state = TrendState { minutes, ..TrendState::default() };
            Trend::new(2, 5).unwrap().has_baseline(&state)
        };
        assert_eq!((whole(0), whole(6), whole(7)), (false, false, true));
    }
}
