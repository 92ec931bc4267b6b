//! Which threshold stands between the floor and the infant's own effort.

use super::{Cause, Initiation, NoiseFloor};
use crate::breath::Breath;
use crate::quantity::{Flow, Problem, SettingError, Share, arith, const_default, setting};
use crate::record;
use core::fmt;

/// Most steps that a grid may have.
pub const MOST_STEPS: usize = 16;
const BINS: usize = MOST_STEPS + 1;

/// The thresholds that can be set on the machine: `count` of them from `lowest` on, `step` apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ThresholdGrid {
    lowest: Flow,
    step: Flow,
    count: usize,
}

const_default! {
    /// 0.1 to 1.6 L/min by 0.1: chosen here, no source.
    ThresholdGrid: {
        let step = Flow::from_milli_l_per_min(100).value;
        Self { lowest: step, step, count: MOST_STEPS }
    }
}

impl ThresholdGrid {
    /// A grid of 1 to 16 steps; `lowest` and `step` above zero.
    ///
    /// # Errors
    /// Names the parameter outside its range.
    pub fn new(lowest: Flow, step: Flow, count: usize) -> Result<Self, SettingError> {
        if lowest <= Flow::ZERO {
            return Err(SettingError::new("lowest", Problem::NotPositive));
        }
        if step <= Flow::ZERO {
            return Err(SettingError::new("step", Problem::NotPositive));
        }
        if count == 0 {
            return Err(SettingError::new("count", Problem::NotPositive));
        }
        if count > MOST_STEPS {
            return Err(SettingError::new("count", Problem::TooLarge));
        }
        Ok(Self { lowest, step, count })
    }

    /// The lowest threshold.
    #[must_use]
    pub const fn lowest(&self) -> Flow {
        self.lowest
    }

    /// How many there are.
    #[must_use]
    pub const fn count(&self) -> usize {
        self.count
    }

    /// The thresholds, rising.
    pub fn levels(&self) -> impl Iterator<Item = Flow> + '_ {
        let next = |level: &Flow| Some(level.saturating_add(self.step).value);
        core::iter::successors(Some(self.lowest), next).take(self.count)
    }

    /// How far apart they are.
    #[must_use]
    pub const fn step(&self) -> Flow {
        self.step
    }

    /// How many levels a flow reaches.
    fn reached(&self, flow: Flow) -> usize {
        self.levels()
            .take_while(|level| *level <= flow)
            .fold(0, |reached: usize, _| reached.saturating_add(1))
    }
}

record! {
    #[const_default]
    /// What has been measured: how often each level was reached by the floor and by efforts.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct ThresholdAdviceState {
        floor: Counts,
        /// Efforts whose whole size showed: own breaths.
        whole: Counts,
        /// Efforts that an inflation hid once it began: at least this large.
        hidden: Counts,
        /// Efforts that set nothing off: by the levels below the threshold that was set.
        unmet: Counts,
    }
}

record! {
    #[const_default]
    /// Counts by the number of levels reached; halved together before one overflows, so old breaths
    /// fade.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    struct Counts([u16; BINS]);
}

impl Counts {
    fn add(&mut self, reached: usize) {
        let Some(bin) = self.0.get_mut(reached) else { return };
        *bin = bin.saturating_add(1);
        if *bin == u16::MAX {
            self.0 = self.0.map(arith::half_u16);
        }
    }

    fn all(&self) -> u32 {
        self.0.iter().fold(0_u32, |sum, &n| sum.saturating_add(u32::from(n)))
    }

    /// How many did not reach level number `level` (counted from zero).
    fn below(&self, level: usize) -> u32 {
        self.0.iter().take(level.saturating_add(1)).fold(0, |sum, &n| sum.saturating_add(n.into()))
    }
}

record! {
    #[const_default]
    /// What one threshold would mean.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[non_exhaustive]
    pub struct ThresholdOutlook {
        /// The threshold.
        pub threshold: Flow,
        /// Share of breaths whose leak, noise and ripple reached it: the machine triggers itself.
        pub self_cycling: Share,
        /// Share of efforts too small for it, for certain.
        pub missed_at_least: Option<Share>,
        /// The same, counting as missed every effort whose size an inflation hid.
        pub missed_at_most: Option<Share>,
    }
}

record! {
    /// The advice.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub enum ThresholdAdvice {
        /// This threshold stands between floor and effort.
        Set(ThresholdOutlook) = 0,
        /// This one stands above the floor; no effort was seen to hold it against.
        AboveFloor(ThresholdOutlook) = 1,
        /// There is none.
        None(NoThreshold) = 2,
    }
}

record! {
    /// Why there is no threshold to recommend.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[non_exhaustive]
    pub enum NoThreshold {
        /// Fewer than twenty breaths with a floor were seen.
        TooFewBreaths = 0,
        /// The leak itself reaches too far: seal it first.
        SealTheLeak = 1,
        /// Noise or ripple reach above every step, or above the infant's effort.
        TooNoisy = 2,
        /// Efforts are missed, and no lower step stands above leak and noise.
        EffortsMissed = 3,
    }
}

/// Fewer breaths say nothing. Chosen here, no source.
const LEAST_BREATHS: u32 = 20;
/// Self-cycling that a recommended threshold may leave. Chosen here, no source.
const SELF_CYCLING_ALLOWED: Share = Share::from_percent(2);
/// Certain misses that a recommended threshold may cost. Chosen here, no source.
const MISSED_ALLOWED: Share = Share::from_percent(10);

impl ThresholdAdviceState {
    /// Takes a closed breath, what started it, and the floor by then. A flagged breath changes
    /// nothing.
    pub fn learn(
        &mut self,
        grid: &ThresholdGrid,
        breath: &Breath,
        initiation: Option<Initiation>,
        floor: Option<NoiseFloor>,
    ) {
        if !breath.is_trusted() {
            return;
        }
        if let Some(floor) = floor {
            let reach = floor.noise.unwrap_or_default().reach;
            self.floor.add(grid.reached(floor.leak.saturating_add(reach).value));
        }
        match initiation.map(|initiation| initiation.cause) {
            None => self.whole.add(grid.reached(breath.peak_insp_flow)),
            Some(Cause::Effort) => self.hidden.add(grid.reached(breath.lead.peak)),
            Some(_) => {}
        }
    }

    /// Takes an effort in expiration that set nothing off under a threshold: no level from there on would
    /// have caught it, and whether one below would is not known.
    pub fn missed(&mut self, grid: &ThresholdGrid, threshold: Flow) {
        let below = grid.levels().take_while(|level| *level < threshold);
        self.unmet.add(below.fold(0, |below: usize, _| below.saturating_add(1)));
    }

    /// What each step of the grid would mean, rising. Three wide divides a step.
    pub fn table<'a>(
        &'a self,
        grid: &'a ThresholdGrid,
    ) -> impl Iterator<Item = ThresholdOutlook> + 'a {
        (0..MOST_STEPS).zip(grid.levels()).map(|(i, threshold)| self.expected(i, threshold))
    }

    /// What a threshold means, as the step of the grid at or below it (else the lowest).
    #[must_use]
    pub fn of(&self, grid: &ThresholdGrid, threshold: Flow) -> ThresholdOutlook {
        let reached = grid.reached(threshold).saturating_sub(1);
        ThresholdOutlook { threshold, ..self.expected(reached, threshold) }
    }

    fn expected(&self, i: usize, threshold: Flow) -> ThresholdOutlook {
        let share = |part: u32, whole: u32| Share::of_counts(part.into(), whole.into());
        let unmet = self.unmet.all();
        let efforts = self.whole.all().saturating_add(self.hidden.all()).saturating_add(unmet);
        let never = self.unmet.below(i);
        let sure = self.whole.below(i).saturating_add(never);
        let most = sure.saturating_add(self.hidden.below(i)).saturating_add(unmet);
        let reached = self.floor.all().saturating_sub(self.floor.below(i));
        ThresholdOutlook {
            threshold,
            self_cycling: share(reached, self.floor.all()).unwrap_or(Share::ZERO),
            missed_at_least: share(sure, efforts),
            missed_at_most: share(most.saturating_sub(never), efforts),
        }
    }

    /// The lowest step that leak, noise and ripple leave alone, if the infant's effort reaches it;
    /// `floor` tells leak from noise where none does.
    #[must_use]
    pub fn advise(&self, grid: &ThresholdGrid, floor: Option<NoiseFloor>) -> ThresholdAdvice {
        if self.floor.all() < LEAST_BREATHS {
            return ThresholdAdvice::None(NoThreshold::TooFewBreaths);
        }
        let by_leak = floor.is_some_and(|f| f.leak > f.noise.unwrap_or_default().reach);
        let reason = if by_leak { NoThreshold::SealTheLeak } else { NoThreshold::TooNoisy };
        let Some(clear) = self.table(grid).find(|e| e.self_cycling <= SELF_CYCLING_ALLOWED) else {
            return ThresholdAdvice::None(reason);
        };
        match clear.missed_at_least {
            None => ThresholdAdvice::AboveFloor(clear),
            Some(missed) if missed <= MISSED_ALLOWED => ThresholdAdvice::Set(clear),
            Some(_) => ThresholdAdvice::None(reason),
        }
    }
}

impl fmt::Display for ThresholdAdvice {
    /// One sentence.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Set(e) => write!(
                f,
                "{:.2} L/min stands above leak, noise and ripple and below the infant's effort",
                e.threshold.to_l_per_min()
            ),
            Self::AboveFloor(e) => write!(
                f,
                "{:.2} L/min is the lowest above leak, noise and ripple; no effort was seen to hold \
                 it against",
                e.threshold.to_l_per_min()
            ),
            Self::None(NoThreshold::TooFewBreaths) => {
                f.write_str("none yet: fewer than twenty breaths with a quiet flow or a known leak")
            }
            Self::None(NoThreshold::SealTheLeak) => f.write_str(
                "none: what clears the leak is above the infant's effort or the grid; seal the leak \
                 first",
            ),
            Self::None(NoThreshold::TooNoisy | NoThreshold::EffortsMissed) => f.write_str(
                "none: what clears noise and ripple is above the infant's effort or the grid",
            ),
        }
    }
}

setting! { ThresholdGrid = new { lowest: Flow, step: Flow, count: usize } }

#[cfg(test)]
mod tests {
    use super::*;

    fn l_min(thousandths: i32) -> Flow {
        Flow::from_milli_l_per_min(thousandths).value
    }

    /// 30 breaths with a floor reaching `floor`, and as many efforts of `effort` (L/min/1000).
    fn seen(floor: i32, effort: i32) -> ThresholdAdviceState {
        let grid = ThresholdGrid::default();
        let mut state = ThresholdAdviceState::default();
        for _ in 0..30 {
            state.floor.add(grid.reached(l_min(floor)));
            state.whole.add(grid.reached(l_min(effort)));
        }
        state
    }

    fn leaky() -> Option<NoiseFloor> {
        Some(NoiseFloor { leak: l_min(300), ..NoiseFloor::default() })
    }

    #[test]
    fn the_lowest_step_in_the_gap_is_advised() {
        // Floor reaches 0.25, effort 0.80 L/min: 0.30 is the first step above 0.25.
        let advice = seen(250, 800).advise(&ThresholdGrid::default(), leaky());
        let ThresholdAdvice::Set(expected) = advice else { panic!("{advice}") };
        assert_eq!(std::format!("{:.2}", expected.threshold.to_l_per_min()), "0.30");
        assert_eq!(expected.self_cycling, Share::ZERO);
        assert_eq!(expected.missed_at_least, Some(Share::ZERO));
    }

    #[test]
    fn without_a_gap_the_reason_is_given() {
        // Floor reaches 0.55, effort 0.50 L/min: what clears the floor (0.60) misses all.
        let state = seen(550, 500);
        let none = |floor| state.advise(&ThresholdGrid::default(), floor);
        assert_eq!(none(leaky()), ThresholdAdvice::None(NoThreshold::SealTheLeak));
        assert_eq!(none(None), ThresholdAdvice::None(NoThreshold::TooNoisy));
        let short = ThresholdAdviceState::default().advise(&ThresholdGrid::default(), None);
        assert_eq!(short, ThresholdAdvice::None(NoThreshold::TooFewBreaths));
    }

    #[test]
    fn a_higher_step_never_self_cycles_more_nor_misses_less() {
        let grid = ThresholdGrid::default();
        let mut state = seen(250, 800);
        for milli in [100, 450, 700, 1_200, 1_900] {
            state.floor.add(grid.reached(l_min(milli)));
            state.hidden.add(grid.reached(l_min(milli)));
        }
        let table: std::vec::Vec<_> = state.table(&grid).collect();
        for pair in table.windows(2) {
            assert!(pair[1].self_cycling <= pair[0].self_cycling);
            assert!(pair[1].missed_at_least >= pair[0].missed_at_least);
            assert!(pair[1].missed_at_most >= pair[0].missed_at_most);
            assert!(pair[1].missed_at_most >= pair[1].missed_at_least);
        }
    }

    #[test]
    fn grids_are_checked() {
        let one = l_min(100);
        assert_eq!(ThresholdGrid::new(Flow::ZERO, one, 4).unwrap_err().parameter, "lowest");
        assert_eq!(ThresholdGrid::new(one, Flow::ZERO, 4).unwrap_err().parameter, "step");
        assert_eq!(ThresholdGrid::new(one, one, 0).unwrap_err().parameter, "count");
        assert_eq!(ThresholdGrid::new(one, one, 17).unwrap_err().parameter, "count");
        assert_eq!(ThresholdGrid::new(one, one, 4).unwrap().levels().count(), 4);
    }

    #[test]
    fn counts_fade_and_never_overflow() {
        let mut counts = Counts::default();
        for _ in 0..200_000 {
            counts.add(3);
            counts.add(5);
        }
        assert!(counts.all() > 60_000 && counts.below(3) > counts.all() / 3);
    }

    #[test]
    fn a_leak_that_reaches_as_far_as_the_noise_is_not_the_reason() {
        let state = seen(550, 500);
        let told = |leak| {
            let noise = Some(super::super::Noise { reach: l_min(300), spread: l_min(100) });
            let floor = NoiseFloor { leak: l_min(leak), noise, ..NoiseFloor::default() };
            state.advise(&ThresholdGrid::default(), Some(floor))
        };
        assert_eq!(told(300), ThresholdAdvice::None(NoThreshold::TooNoisy));
        assert_eq!(told(301), ThresholdAdvice::None(NoThreshold::SealTheLeak));
    }

    #[test]
    fn any_threshold_is_looked_up_at_the_step_at_or_below_it() {
        // The floor reaches 0.25 L/min, which is the steps 0.1 and 0.2; efforts 0.85.
        let (grid, state) = (ThresholdGrid::default(), seen(250, 850));
        let (none, all) = (Share::ZERO, Share::ONE);
        for (set, cycling, missed) in [
            (50, all, none),
            (299, all, none),
            (301, none, none),
            (899, none, none),
            (901, none, all),
        ] {
            let outlook = state.of(&grid, l_min(set));
            let want = (l_min(set), cycling, Some(missed), Some(missed));
            let got = (outlook.threshold, outlook.self_cycling);
            let got = (got.0, got.1, outlook.missed_at_least, outlook.missed_at_most);
            assert_eq!(got, want, "0.{set:03} L/min");
        }
    }

    #[test]
    fn an_effort_that_set_nothing_off_is_missed_from_its_threshold_on() {
        // Ten efforts of 0.8 L/min, ten that 0.3 missed: from there on half are missed for certain, below it at most.
        let (grid, mut state) = (ThresholdGrid::default(), ThresholdAdviceState::default());
        for _ in 0..10 {
            state.whole.add(grid.reached(l_min(800)));
            let set = grid.levels().nth(2).unwrap();
            state.missed(&grid, set);
        }
        let half = Share::from_percent(50);
        let told: std::vec::Vec<_> =
            state.table(&grid).take(4).map(|e| (e.missed_at_least, e.missed_at_most)).collect();
        let (below, from) = ((Some(Share::ZERO), Some(half)), (Some(half), Some(half)));
        assert_eq!(told, [below, below, from, from]);
    }

    #[test]
    fn twenty_breaths_are_enough_and_sixteen_steps_are_not_too_many() {
        let grid = ThresholdGrid::new(l_min(100), l_min(100), MOST_STEPS).unwrap();
        let mut state = ThresholdAdviceState::default();
        let few = ThresholdAdvice::None(NoThreshold::TooFewBreaths);
        for n in 1..=20 {
            assert_eq!(state.advise(&grid, None), few, "{n}");
            state.floor.add(grid.reached(l_min(250)));
        }
        // No effort was seen; 0.3 is the first above 0.25 L/min.
        let told = state.advise(&grid, None);
        let ThresholdAdvice::AboveFloor(outlook) = told else { panic!("{told}") };
        assert_eq!(outlook.threshold, grid.levels().nth(2).unwrap());
    }

    #[test]
    fn self_cycling_of_two_in_a_hundred_and_misses_of_ten_are_allowed() {
        // Of 100 breaths 98 reach 0.15 L/min; 2 or 3 reach 0.25. Of 100 efforts 90 or 89 reach 0.8, the others 0.15.
        let grid = ThresholdGrid::default();
        let advised = |loud: usize, weak: usize| {
            let mut state = ThresholdAdviceState::default();
            for n in 0..100 {
                state.floor.add(grid.reached(l_min(if n < loud { 250 } else { 150 })));
                state.whole.add(grid.reached(l_min(if n < weak { 150 } else { 800 })));
            }
            match state.advise(&grid, None) {
                ThresholdAdvice::Set(outlook) => Ok(outlook.threshold),
                other => Err(other),
            }
        };
        let level = |n| grid.levels().nth(n).unwrap();
        assert_eq!(advised(2, 10), Ok(level(1)));
        assert_eq!(advised(3, 10), Ok(level(2)));
        assert_eq!(advised(2, 11), Err(ThresholdAdvice::None(NoThreshold::TooNoisy)));
    }
}
