//! Which lower limit of volume fits the infant's own breaths, and what a limit would have done.

use super::history::VolumeHistory;
use super::{BreathKind, Change, LimitAlarm, LimitState};
use crate::quantity::{Problem, SettingError, Share, Volume};
use crate::record;
use core::fmt;

/// Fewer breaths say nothing. Chosen here, no source.
const LEAST_BREATHS: u32 = 30;
/// The part of the median that a limit may come up to.
const GUARDED: Share = Share::from_percent(80);

/// How a lower limit of expired volume is looked for.
///
/// A limit set on the volume that the machine assures rings on the infant's smaller own breaths.
/// The advice is a limit of their own, never one under the floor: a breath no larger than the dead
/// space may ventilate little, and a limit below that would hide it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub struct LevelAdvice {
    floor: Volume,
    percent: u8,
    most: Option<Volume>,
}

record! {
    /// A recommended lower limit, or why there is none.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub enum Level {
        /// This limit is reached by enough breaths.
        Set {
            /// The limit. By [`LevelBy::Breaths`] an edge of the grid, up to an eighth below the exact quantile; else
            /// what bounds it.
            level: Volume,
            /// The share of breaths that reach it, toward zero.
            captures: Share,
            /// What keeps it from being higher.
            by: LevelBy,
        } = 0,
        /// There is none.
        None(NoLevel) = 1,
    }
}

record! {
    /// What keeps a recommended limit from being higher.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub enum LevelBy {
        /// More breaths would be under it.
        Breaths = 0,
        /// It is 80 % of the median that it guards: nearer, every wandering would ring (chosen here, no
        /// source).
        Median = 1,
        /// It is the target volume, or what is needed: under more than that nothing is wrong.
        Need = 2,
        /// It would be lower by the two above, but is the floor, which no limit goes under.
        Floor = 3,
    }
}

record! {
    /// Why there is no limit to recommend.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[non_exhaustive]
    pub enum NoLevel {
        /// Fewer than thirty breaths of the kind were seen.
        TooFewBreaths = 0,
        /// The limit that enough breaths reach lies under the floor: many breaths may ventilate
        /// nothing, which an alarm must not be silenced for.
        UnderDeadSpace {
            /// That limit.
            would_be: Volume,
        } = 1,
    }
}

record! {
    #[const_default]
    /// What a limit would have done to the latest breaths of a kind.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[non_exhaustive]
    pub struct Rehearsal {
        /// Breaths looked at, at most 128.
        pub breaths: u32,
        /// Those under the lower limit.
        pub below: u32,
        /// Runs of such breaths: how often it would have rung without delay and hysteresis.
        pub runs: u32,
        /// How often it would have rung with them.
        pub rang: u32,
    }
}

impl LevelAdvice {
    /// A floor above zero, as the [anatomical dead space](crate::bedside::anatomical_dead_space) and that
    /// of the sensor, and the share of breaths that a limit must let pass: 50 to 99 percent.
    ///
    /// # Errors
    /// Names the parameter outside its range.
    pub fn new(floor: Volume, percent: u8) -> Result<Self, SettingError> {
        if floor <= Volume::ZERO {
            return Err(SettingError::new("floor", Problem::NotPositive));
        }
        SettingError::within("percent", percent, 50, 99)?;
        Ok(Self { floor, percent, most: None })
    }

    /// With a volume that no limit needs to pass: the target, or what each breath has to move.
    #[must_use]
    pub const fn with_most(mut self, most: Volume) -> Self {
        self.most = Some(most);
        self
    }

    /// The highest limit on the grid that enough breaths of a kind reach, held at 80 % of their median
    /// and at the [most](Self::with_most). Cost: three times 64 steps and a divide.
    #[must_use]
    pub fn advise(&self, history: &VolumeHistory, kind: BreathKind) -> Level {
        let seen = history.of(kind);
        if seen.all() < LEAST_BREATHS {
            return Level::None(NoLevel::TooFewBreaths);
        }
        let (mut level, mut by) = (seen.reached_by(self.percent).0, LevelBy::Breaths);
        if level < self.floor {
            return Level::None(NoLevel::UnderDeadSpace { would_be: level });
        }
        let median = seen.reached_by(50).0.times(GUARDED).value;
        for (most, held) in [(Some(median), LevelBy::Median), (self.most, LevelBy::Need)] {
            if let Some(most) = most.filter(|most| *most < level) {
                (level, by) = (most, held);
            }
        }
        if level < self.floor {
            (level, by) = (self.floor, LevelBy::Floor);
        }
        let reach = seen.reaching(level);
        let captures = Share::of_counts(reach.into(), seen.all().into()).unwrap_or(Share::ZERO);
        Level::Set { level, captures, by }
    }

    /// One limit for a machine that has only one for all breaths: the lowest of those for the kinds that
    /// were seen often enough.
    #[must_use]
    pub fn advise_one(&self, history: &VolumeHistory) -> Level {
        let mut lowest = Level::None(NoLevel::TooFewBreaths);
        for kind in BreathKind::ALL {
            match (self.advise(history, kind), lowest) {
                (Level::None(NoLevel::TooFewBreaths), _) => {}
                (none @ Level::None(NoLevel::UnderDeadSpace { .. }), _) => return none,
                (Level::Set { level, .. }, Level::Set { level: other, .. }) if level >= other => {}
                (set @ Level::Set { .. }, _) => lowest = set,
            }
        }
        lowest
    }
}

impl VolumeHistory {
    /// What the lower limit of an alarm would have done to the latest breaths of a kind, as the
    /// alarm itself does it; times are taken to a millisecond, and a latching alarm counts as one
    /// that does not.
    #[must_use]
    pub fn rehearse(&self, kind: BreathKind, alarm: &LimitAlarm<Volume>) -> Rehearsal {
        let alarm = alarm.unlatched();
        let mut state = LimitState::default();
        let mut out = Rehearsal::default();
        let mut was_below = false;
        for (at, volume) in self.of(kind).latest() {
            let below = alarm.limits().low().is_some_and(|low| volume < low);
            let on = alarm.step(&mut state, at, Some(volume)).low == Some(Change::On);
            out.breaths = out.breaths.saturating_add(1);
            out.below = out.below.saturating_add(below.into());
            out.runs = out.runs.saturating_add((below && !was_below).into());
            out.rang = out.rang.saturating_add(on.into());
            was_below = below;
        }
        out
    }
}

impl fmt::Display for Level {
    /// One sentence.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Set { level, captures, .. } => {
                write!(
                    f,
                    "{level:.1}: {:.0} % of these breaths reach it",
                    captures.to_percent().value
                )
            }
            Self::None(NoLevel::TooFewBreaths) => {
                f.write_str("none yet: fewer than thirty breaths of this kind")
            }
            Self::None(NoLevel::UnderDeadSpace { would_be }) => write!(
                f,
                "none: what these breaths reach, {would_be:.1}, is under the dead space; see to the \
                 ventilation, not to the alarm"
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::alarm::{BreathView, Limits};
    use crate::bedside::anatomical_dead_space;
    use crate::quantity::{Duration, Instant, Mass};
    use std::string::ToString;

    fn ml(thousandths: i32) -> Volume {
        Volume::from_milli(thousandths).value
    }

    /// Breaths of a kind 0.5 s apart.
    fn seen(kind: BreathKind, volumes: &[i32]) -> VolumeHistory {
        let mut history = VolumeHistory::default();
        for (i, &volume) in volumes.iter().enumerate() {
            history.learn(&BreathView {
                at: Instant::from_us((i as u64 + 1) * 500_000),
                kind,
                inspired: None,
                expired: Some(ml(volume)),
                most_out: Some(ml(volume)),
                leak: None,
                rate: None,
                minute_volume: None,
                peak: None,
                drawn: true,
                trusted: true,
            });
        }
        history
    }

    fn newborn() -> LevelAdvice {
        // 1 kg: 3.28 mL (Numa & Newth 1996, J Appl Physiol 80:1485-1489).
        let floor = anatomical_dead_space(Mass::from_grams(1_000).unwrap(), Duration::ZERO).value;
        LevelAdvice::new(floor, 95).unwrap()
    }

    fn low(level: i32, delay_ms: u32, hysteresis: i32) -> LimitAlarm<Volume> {
        let limits = Limits::new(Some(ml(level)), None).unwrap();
        LimitAlarm::new(limits, Duration::from_millis(delay_ms), ml(hysteresis), false).unwrap()
    }

    #[test]
    fn own_breaths_under_the_level_of_the_assured_ones() {
        // 1 kg, 5 mL assured, the usual level 80 % of that: 4.0 mL. The infant's own breaths, which
        // no one assures, are 3.6 and 4.4 mL in turn: every other one is below, and each rings.
        let volumes: std::vec::Vec<i32> =
            (0..100).map(|i| if i % 2 == 0 { 3_600 } else { 4_400 }).collect();
        let history = seen(BreathKind::Own, &volumes);
        let before = history.rehearse(BreathKind::Own, &low(4_000, 0, 0));
        assert_eq!(before, Rehearsal { breaths: 100, below: 50, runs: 50, rang: 50 });
        // All reach 3.5 mL, the edge under 3.6, but half no more than 4.0, of which 80 % are 3.2: the
        // dead space of 3.28 holds it above.
        let advice = newborn().advise(&history, BreathKind::Own);
        let Level::Set { level, captures, by } = advice else { panic!("{advice}") };
        assert_eq!((captures, by), (Share::ONE, LevelBy::Floor));
        assert!(level.apart(ml(3_280)) <= Volume::STEP.magnitude(), "{level}");
        assert_eq!(advice.to_string(), "3.3 mL: 100 % of these breaths reach it");
        let after = history.rehearse(BreathKind::Own, &low(3_280, 0, 0));
        assert_eq!((after.breaths, after.rang), (100, 0));
        // The other kinds are not judged by these breaths.
        let other = newborn().advise(&history, BreathKind::Assured);
        assert_eq!(other, Level::None(NoLevel::TooFewBreaths));
    }

    #[test]
    fn breaths_under_the_dead_space_are_not_silenced() {
        // 2.6 mL of 1 kg is under 3.28 mL: the edge below, 2.5 mL, is refused.
        let history = seen(BreathKind::Own, &[2_600; 50]);
        let advice = newborn().advise(&history, BreathKind::Own);
        assert_eq!(advice, Level::None(NoLevel::UnderDeadSpace { would_be: ml(2_500) }));
        assert!(advice.to_string().contains("under the dead space"));
    }

    #[test]
    fn a_level_stays_away_from_what_it_guards_and_from_what_is_needed() {
        // All reach 8 mL: 80 % of that are 6.4. A target of 5 mL holds it there.
        let history = seen(BreathKind::Assured, &[8_000; 50]);
        let level = |advice: LevelAdvice| match advice.advise(&history, BreathKind::Assured) {
            Level::Set { level, by, .. } => (level, by),
            none @ Level::None(_) => panic!("{none}"),
        };
        let (by_median, by) = level(newborn());
        assert_eq!(by, LevelBy::Median);
        assert!((by_median.to_f64() - 6.4).abs() < 1.3e-4, "{by_median}");
        assert_eq!(level(newborn().with_most(ml(5_000))), (ml(5_000), LevelBy::Need));
        assert_eq!(level(newborn().with_most(ml(7_000))).1, LevelBy::Median);
    }

    #[test]
    fn one_level_for_all_is_the_lowest() {
        let mut history = seen(BreathKind::Assured, &[8_000; 50]);
        let one = |history: &VolumeHistory| newborn().advise_one(history);
        assert_eq!(one(&VolumeHistory::default()), Level::None(NoLevel::TooFewBreaths));
        let alone = one(&history);
        assert_eq!(alone, newborn().advise(&history, BreathKind::Assured));
        let more = |history: &mut VolumeHistory, kind, volume, from: u64| {
            for i in 0..40 {
                history.learn(&BreathView {
                    at: Instant::from_us((from + i) * 1_000_000),
                    kind,
                    inspired: None,
                    expired: Some(ml(volume)),
                    most_out: Some(ml(volume)),
                    leak: None,
                    rate: None,
                    minute_volume: None,
                    peak: None,
                    drawn: true,
                    trusted: true,
                });
            }
        };
        // Assured ones of 6 mL after supported ones of 8: theirs is the lower.
        let mut other = seen(BreathKind::Supported, &[8_000; 50]);
        more(&mut other, BreathKind::Assured, 6_000, 100);
        assert_eq!(one(&other), newborn().advise(&other, BreathKind::Assured));
        // Supported ones of 5 mL: 4 mL; own ones of 2.6 are under the dead space, and none serves.
        for (kind, volume, from) in
            [(BreathKind::Supported, 5_000, 100), (BreathKind::Own, 2_600, 200)]
        {
            more(&mut history, kind, volume, from);
            let want = newborn().advise(&history, kind);
            assert_eq!(one(&history), want, "{kind:?}");
        }
        assert!(matches!(one(&history), Level::None(NoLevel::UnderDeadSpace { .. })));
    }

    #[test]
    fn runs_longer_than_the_delay_are_told_apart() {
        // Below 4 mL: a run of one, of two and of five breaths 0.5 s apart. With a delay of 2 s
        // only five breaths, 4 × 0.5 = 2 s, ring.
        let (s, l) = (5_000, 3_000);
        let history = seen(BreathKind::Own, &[s, l, s, l, l, s, l, l, l, l, l, s]);
        let rehearsal = history.rehearse(BreathKind::Own, &low(4_000, 2_000, 0));
        assert_eq!(rehearsal, Rehearsal { breaths: 12, below: 8, runs: 3, rang: 1 });
        // A hysteresis of 2 mL: 5 mL do not end it, so it rings once.
        let rehearsal = history.rehearse(BreathKind::Own, &low(4_000, 0, 2_000));
        assert_eq!((rehearsal.runs, rehearsal.rang), (3, 1));
        // A breath of just the limit is not under it; without a lower limit none is.
        let rehearsal = history.rehearse(BreathKind::Own, &low(5_000, 0, 0));
        assert_eq!((rehearsal.below, rehearsal.rang), (8, 3));
        let limits = Limits::new(None, Some(ml(9_000))).unwrap();
        let high = LimitAlarm::new(limits, Duration::ZERO, Volume::ZERO, false).unwrap();
        let rehearsal = history.rehearse(BreathKind::Own, &high);
        assert_eq!(rehearsal, Rehearsal { breaths: 12, below: 0, runs: 0, rang: 0 });
    }

    #[test]
    fn settings_are_checked() {
        assert_eq!(LevelAdvice::new(Volume::ZERO, 95).unwrap_err().parameter, "floor");
        assert_eq!(LevelAdvice::new(ml(1), 49).unwrap_err().parameter, "percent");
        assert_eq!(LevelAdvice::new(ml(1), 100).unwrap_err().parameter, "percent");
    }

    #[test]
    fn a_level_just_at_what_holds_it_is_not_held_by_that() {
        // 2.6 mL reach the edge of 2.5; 80 % of that is what the median holds it to.
        let history = seen(BreathKind::Own, &[2_600; 50]);
        let advise = |floor| LevelAdvice::new(floor, 95).unwrap().advise(&history, BreathKind::Own);
        let by = |level| match level {
            Level::Set { level, by, .. } => (level, by),
            none @ Level::None(_) => panic!("{none}"),
        };
        let guarded = ml(2_500).times(GUARDED).value;
        assert_eq!(by(advise(ml(2_500))), (ml(2_500), LevelBy::Floor));
        assert_eq!(by(advise(guarded)), (guarded, LevelBy::Median));
        let needed = LevelAdvice::new(ml(1_000), 95).unwrap().with_most(guarded);
        assert_eq!(by(needed.advise(&history, BreathKind::Own)), (guarded, LevelBy::Median));
    }
}
