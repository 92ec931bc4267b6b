//! Whether what flow shows speaks against the load of a step.

use super::readiness::{LOW_SATURATION, SLOW_HEART};
use super::{LoadSigns, Tally, Trend, TrendState};
use crate::alarm::VitalSigns;
use crate::breath::DEAD_SPACE;
use crate::mechanics::TubeResistance;
use crate::quantity::{
    ConstDefault, Mass, Pressure, Problem, Rate, SettingError, Share, Volume, const_default,
    setting,
};
use crate::record;
use core::fmt;

/// What counts as a sign, and how long it must last.
///
/// Two references: the beginning of the present step, for tiring, and the end of the step before,
/// for a step too large. A loss of pressure support alone raises the rate by a tenth and lowers
/// volumes by a quarter (Gupta 2009, Arch Dis Child Fetal Neonatal Ed 94:F80-83: 59, 65 and 72/min
/// at 6.64, 5.11 and 3.75 mL/kg with full, partial and no support), so the step before is left
/// more room. The limits themselves are chosen on simulated shifts; no source.
///
/// Beside them stand limits that no earlier time excuses, where the weight is known: a minute volume
/// under 125 mL/kg (the level under which time is counted in Vento 2004, J Matern Fetal Neonatal Med);
/// less than 30 mL/kg of it beyond the dead space (chosen here: the infants of Gupta 2009 without
/// support were left with 34); most breaths under the dead space, or a mean under 2.5 mL/kg (the lower
/// end of partial support there); two pauses a minute (chosen here, no source). A minute volume that fell from above
/// 360 mL/kg and is 240 at least (the band of Mallya 2017) came down to what is usual: that is no sign. And, where another
/// monitor gives them, a heart rate under 100 /min or a saturation under 85 % (what fails a breathing
/// trial in Kamlin 2006, Arch Dis Child Fetal Neonatal Ed 91:F180-183; not checked against the paper).
/// The dead space is the whole anatomical one (Numa & Newth 1996), upper airway included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LoadCriteria {
    change: Share,
    sustain: u8,
    tube: Option<TubeResistance>,
    mass: Option<Mass>,
}

record! {
    /// What is made of a step so far. Advice on load alone: whether to go on is a clinical decision.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum LoadVerdict {
        /// No sign of overload in what flow shows. Not that the next step is safe.
        NoSign = 0,
        /// Signs that ask for time.
        Hold(LoadSigns) = 1,
        /// Signs that ask for the step before.
        StepBack(LoadSigns) = 2,
        /// It cannot be told.
        CannotTell(NoVerdict) = 3,
    }
}

record! {
    #[const_default(TooSoon)]
    /// Why it cannot be told, of three minutes or of the step's beginning. Where several hold, the first of: too young,
    /// implausible, too little known, self-cycling, not breathing, no volume.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    #[non_exhaustive]
    pub enum NoVerdict {
        /// The step is too young for a baseline and three minutes after it.
        TooSoon = 0,
        /// Half of the time or more lies in flagged breaths; or nothing speaks against the step and it is not known who
        /// began most breaths: flow and pressure are apart in time, ripple moves the muscle pressure with no quiet flow
        /// before most inflations to show how far it reaches, or they come as regularly as a clock.
        TooLittleKnown = 1,
        /// Fewer than half of the breaths have a volume that can be believed, or a minute of them has none.
        NoVolume = 2,
        /// The machine sets itself off five times a minute or more (that many triggered breaths in a
        /// paralysed patient are self-cycling: Imanaka 2000, Crit Care Med 28:402-407).
        SelfCycling = 3,
        /// Neither at the beginning of the step nor now does the infant breathe five times a minute.
        NotBreathing = 4,
        /// Nothing usable comes from the sensor now, whatever was made of the time before.
        NoInput = 5,
        /// More breaths have numbers that no breath has than are trusted.
        Implausible = 6,
    }
}

record! {
    #[const_default]
    /// How long each sign has lasted: up with each window that shows it, to twice the time that counts,
    /// down with each that does not, so that a verdict does not flap.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct LoadState {
        lasted: [u8; LoadSigns::ALL.len()],
        verdict: LoadVerdict,
        /// Signs that another monitor showed since the last minute, and shows now.
        shown: LoadSigns,
        showing: LoadSigns,
    }
}

impl ConstDefault for LoadVerdict {
    const DEFAULT: Self = Self::CannotTell(NoVerdict::TooSoon);
}

const_default! {
    /// Changes of 15 % within the step and 30 % against the step before, in two windows in a row; the
    /// tube is not known.
    LoadCriteria: Self { change: Share::from_percent(15), sustain: 2, tube: None, mass: None }
}

/// That many breaths a minute make a breathing infant, and a machine that sets itself off.
const FEW: Rate = Rate::from_int(5);

const MANY_PAUSES: Rate = Rate::from_int(2);
/// For each kilogram: minute volume, what of it goes beyond the dead space, and the mean volume.
const LEAST_MINUTE: Volume = Volume::from_int(125);
const LEAST_BEYOND: Volume = Volume::from_int(30);
const LEAST_VOLUME: Volume = Volume::from_milli(2_500).value;
/// The band that minute volume is held in while weaning (Mallya 2017, Neonatal Society abstract), for each kilogram.
const LEAST_NEEDED: Volume = Volume::from_int(240);
const MOST_NEEDED: Volume = Volume::from_int(360);

impl LoadCriteria {
    /// A change of 5 to 50 % that counts (twice that for minute volume and against the step before),
    /// in 1 to 10 windows in a row: a window is three minutes,
    /// and one ends every minute.
    ///
    /// # Errors
    /// Names the parameter outside its range.
    pub fn new(change: Share, sustain: u8) -> Result<Self, SettingError> {
        let (least, most) = (Share::from_percent(5), Share::from_percent(50));
        SettingError::within("change", change, least, most)?;
        if sustain == 0 {
            return Err(SettingError::new("sustain", Problem::NotPositive));
        }
        SettingError::within("sustain", sustain, 1, 10)?;
        Ok(Self { change, sustain, tube: None, mass: None })
    }

    /// The tube in which the pressure lost is watched; `None` where none was given.
    #[must_use]
    pub const fn tube(&self) -> Option<TubeResistance> {
        self.tube
    }

    fn of_parts(
        change: Share,
        sustain: u8,
        tube: Option<TubeResistance>,
        mass: Option<Mass>,
    ) -> Result<Self, SettingError> {
        Self::new(change, sustain).map(|load| Self { tube, mass, ..load })
    }

    /// With the tube, so that the pressure lost in it can be watched.
    #[must_use]
    pub const fn with_tube(mut self, tube: TubeResistance) -> Self {
        self.tube = Some(tube);
        self
    }

    const fn weight(&self) -> Option<Mass> {
        self.mass
    }

    /// Volumes are not known by weight any more.
    pub(crate) const fn without_weight(mut self) -> Self {
        self.mass = None;
        self
    }

    /// With the patient's weight, so that volumes are held against limits of their own too.
    #[must_use]
    pub(crate) const fn with_weight(mut self, mass: Mass) -> Self {
        self.mass = Some(mass);
        self
    }

    /// What another monitor shows from now on.
    #[doc(hidden)]
    pub fn set_vital_signs(&self, state: &mut LoadState, signs: VitalSigns) {
        let slow = signs.heart_rate.is_some_and(|rate| rate < SLOW_HEART);
        let low = signs.saturation.is_some_and(|percent| percent < LOW_SATURATION);
        state.showing = LoadSigns::when(LoadSigns::SLOW_HEART, slow)
            .with(LoadSigns::when(LoadSigns::LOW_SATURATION, low));
        state.shown = state.shown.with(state.showing);
    }

    /// The change that counts within a step; twice that for minute volume and against the step
    /// before.
    #[must_use]
    pub const fn change(&self) -> Share {
        self.change
    }

    /// In how many windows in a row.
    #[must_use]
    pub const fn sustain(&self) -> u8 {
        self.sustain
    }

    /// Judges at the end of a minute; the verdict where it changed. `is_doubtful` says that breaths which count as the
    /// infant's may be nobody's. A few dozen wide divides, once a minute.
    #[doc(hidden)]
    pub fn judge(
        &self,
        state: &mut LoadState,
        trend: &Trend,
        minutes: &TrendState,
        is_doubtful: impl FnOnce() -> bool,
    ) -> Option<LoadVerdict> {
        let shown = core::mem::replace(&mut state.shown, state.showing);
        let verdict = match self.present(trend, minutes) {
            Ok((present, is_late)) => {
                let verdict = self.weigh(state, present.with(shown));
                // Nor is it known whether the infant gives up: no sign would be a comfort that nothing bears out.
                let is_comfort = verdict == LoadVerdict::NoSign && (is_late || is_doubtful());
                if is_comfort {
                    LoadVerdict::CannotTell(NoVerdict::TooLittleKnown)
                } else {
                    verdict
                }
            }
            // What another monitor shows needs no volume.
            Err(_) if !shown.is_empty() => self.weigh(state, shown),
            Err(why) => {
                state.lasted = LoadState::default().lasted;
                LoadVerdict::CannotTell(why)
            }
        };
        if verdict == state.verdict {
            return None;
        }
        state.verdict = verdict;
        Some(verdict)
    }

    /// A step begins.
    #[doc(hidden)]
    pub fn rebase(&self, state: &mut LoadState) {
        let (shown, showing) = (state.shown, state.showing);
        *state = LoadState { shown, showing, ..LoadState::default() };
    }

    fn weigh(&self, state: &mut LoadState, present: LoadSigns) -> LoadVerdict {
        let mut lasting = LoadSigns::NONE;
        for (lasted, &(sign, _)) in state.lasted.iter_mut().zip(LoadSigns::ALL) {
            *lasted = if present.has(sign) {
                lasted.saturating_add(1).min(self.sustain.saturating_mul(2))
            } else {
                lasted.saturating_sub(1)
            };
            lasting = lasting.with(LoadSigns::when(sign, *lasted >= self.sustain));
        }
        if !lasting.and(LoadSigns::STRONG).is_empty() || lasting.count() >= 2 {
            LoadVerdict::StepBack(lasting)
        } else if !lasting.is_empty() || !present.and(LoadSigns::STRONG).is_empty() {
            LoadVerdict::Hold(lasting.with(present.and(LoadSigns::STRONG)))
        } else {
            LoadVerdict::NoSign
        }
    }

    /// The signs of the window that has just ended, and whether, now or at the beginning of the step, it is not known who
    /// began most breaths.
    fn present(&self, trend: &Trend, minutes: &TrendState) -> Result<(LoadSigns, bool), NoVerdict> {
        let recent = minutes.recent().filter(|_| trend.is_past_baseline(minutes));
        let now = &recent.ok_or(NoVerdict::TooSoon)?;
        let then = minutes.baseline();
        if [now, then].into_iter().any(|t| t.implausible() > t.breaths()) {
            return Err(NoVerdict::Implausible);
        }
        if [now, then].into_iter().any(|t| t.known() <= t.unknown()) {
            return Err(NoVerdict::TooLittleKnown);
        }
        let rate = |t: &Tally, count| t.a_minute(count).unwrap_or_default();
        if rate(now, now.self_cycled()) >= FEW {
            return Err(NoVerdict::SelfCycling);
        }
        let (own_now, own_then) = (rate(now, now.by_infant()), rate(then, then.by_infant()));
        let is_late = now.is_late() || then.is_late();
        if own_now.max(own_then) < FEW {
            // Who began what the infant may have is not known.
            return Err(if is_late { NoVerdict::TooLittleKnown } else { NoVerdict::NotBreathing });
        }
        let fewer = !is_late && own_now <= own_then.halved(1);
        let mut signs = LoadSigns::when(LoadSigns::FEWER_OWN, fewer);
        let more = |count: fn(&Tally) -> u16, by: i16| {
            let limit = rate(then, count(then)).saturating_add(Rate::from_int(by)).value;
            rate(now, count(now)) >= limit
        };
        let pauses = more(Tally::pauses, 1) || rate(now, now.pauses()) >= MANY_PAUSES;
        signs = signs.with(LoadSigns::when(LoadSigns::PAUSES, pauses));
        signs = signs.with(LoadSigns::when(LoadSigns::MISSED, more(Tally::missed, 5)));
        signs = signs.with(LoadSigns::when(LoadSigns::TUBE_LOSS, self.draws_harder(now, then)));
        let usual = Comparison::of(now, then).ok_or(NoVerdict::NoVolume)?;
        let one = self.change;
        signs = signs.with(LoadSigns::when(LoadSigns::RAPID_SHALLOW, usual.is_rapid_shallow(one)));
        let twice = one.saturating_add(one).value;
        let fell = usual.has_less(twice);
        let counts = !(fell && self.is_usual_again(&usual));
        let mut less = fell && counts;
        let mut before = minutes.before();
        if let Some(step) = before.and_then(|before| Comparison::of(now, before)) {
            let costly = step.is_rapid_shallow(twice);
            signs = signs.with(LoadSigns::when(LoadSigns::COSTLY_STEP, costly));
            if step.has_less(twice) {
                if self.is_usual_again(&step) {
                    before = None;
                } else {
                    less = true;
                }
            }
        }
        signs = signs.with(LoadSigns::when(LoadSigns::LESS_VOLUME, less));
        Ok((signs.with(self.by_weight(now, counts.then_some(then), before)), is_late))
    }

    /// Signs that need the weight; `then` and `before` where a fall from there counts.
    fn by_weight(&self, now: &Tally, then: Option<&Tally>, before: Option<&Tally>) -> LoadSigns {
        let Some(mass) = self.mass else { return LoadSigns::NONE };
        let each = |volume: Volume| volume.for_each_kg(mass).value;
        let dead_space = each(DEAD_SPACE);
        let beyond = |t: &Tally| t.alveolar_volume(dead_space);
        let fallen = |was: Option<Volume>, by: Share| {
            beyond(now).zip(was).is_some_and(|(is, was)| was > Volume::ZERO && is_less(is, was, by))
        };
        let twice = self.change.saturating_add(self.change).value;
        let less = beyond(now).is_some_and(|volume| volume < each(LEAST_BEYOND))
            || fallen(then.and_then(beyond), twice)
            || fallen(before.and_then(beyond), Share::from_percent(50));
        let little = now.minute_volume().is_some_and(|volume| volume < each(LEAST_MINUTE));
        let small = now.mean_volume().is_some_and(|volume| volume < each(LEAST_VOLUME))
            || now.shallow().saturating_mul(2) > now.breaths();
        LoadSigns::when(LoadSigns::LESS_ALVEOLAR, less)
            .with(LoadSigns::when(LoadSigns::LITTLE_VOLUME, little))
            .with(LoadSigns::when(LoadSigns::SMALL, small))
    }

    /// Whether of what fell more moved a minute than infants do while they are weaned, and now no less than they need.
    #[inline(never)]
    fn is_usual_again(&self, course: &Comparison) -> bool {
        let Some(mass) = self.mass else { return false };
        let (is, was) = course.minute;
        was > MOST_NEEDED.for_each_kg(mass).value && is >= LEAST_NEEDED.for_each_kg(mass).value
    }

    /// A quarter more pressure lost in the tube, and half a cmH2O at least.
    fn draws_harder(&self, now: &Tally, then: &Tally) -> bool {
        let Some(tube) = self.tube else { return false };
        let loss = |t: &Tally| t.peak_flow().and_then(|flow| tube.drop(flow).within());
        let Some((now, then)) = loss(now).zip(loss(then)) else { return false };
        let more = now.saturating_sub(then).value;
        more >= Pressure::from_milli(500).value && more >= then.halved(2)
    }
}

/// Rate, volume and minute volume of two windows.
struct Comparison {
    rate: (Rate, Rate),
    volume: (Volume, Volume),
    minute: (Volume, Volume),
}

impl Comparison {
    /// Volumes of the breaths that the machine does not assure where both windows have ten of them,
    /// else of all breaths.
    fn of(now: &Tally, then: &Tally) -> Option<Self> {
        let free = |t: &Tally| t.free_volume().filter(|(_, n)| *n >= 10).map(|(v, _)| v);
        let volume = match free(now).zip(free(then)) {
            Some(both) => both,
            None => now.mean_volume().zip(then.mean_volume())?,
        };
        Some(Self {
            rate: now.rate().zip(then.rate())?,
            volume,
            minute: now.minute_volume().zip(then.minute_volume())?,
        })
    }

    fn is_rapid_shallow(&self, by: Share) -> bool {
        let ((rate, was), (volume, had)) = (self.rate, self.volume);
        rate >= was.times(Share::ONE.saturating_add(by).value).value && is_less(volume, had, by)
    }

    fn has_less(&self, by: Share) -> bool {
        is_less(self.minute.0, self.minute.1, by)
    }
}

fn is_less(now: Volume, then: Volume, by: Share) -> bool {
    now <= then.times(Share::ONE.saturating_sub(by).value).value
}

impl LoadState {
    /// The verdict of the last minute.
    #[must_use]
    pub const fn verdict(&self) -> LoadVerdict {
        self.verdict
    }
}

impl LoadVerdict {
    /// Whether it asks for the step before because of the pattern of tiring.
    #[must_use]
    pub(crate) const fn is_tiring(&self) -> bool {
        matches!(self, Self::StepBack(signs) if !signs.and(LoadSigns::TIRING).is_empty())
    }

    /// The verdict's name.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::NoSign => "no sign",
            Self::Hold(_) => "hold",
            Self::StepBack(_) => "step back",
            Self::CannotTell(_) => "cannot tell",
        }
    }
}

impl fmt::Display for NoVerdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::TooSoon => "the step is too young",
            Self::TooLittleKnown => {
                "too many breaths are flagged, or nobody can tell who began them"
            }
            Self::NoVolume => "too few volumes can be believed",
            Self::SelfCycling => "the machine sets itself off",
            Self::NotBreathing => "the infant does not breathe",
            Self::NoInput => "nothing usable comes from the sensor",
            Self::Implausible => "the numbers of most breaths cannot be",
        })
    }
}

impl fmt::Display for LoadVerdict {
    /// The name and its reasons.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoSign => f.write_str("no sign of overload in what flow shows"),
            Self::Hold(signs) | Self::StepBack(signs) => write!(f, "{}: {signs}", self.name()),
            Self::CannotTell(why) => write!(f, "cannot tell: {why}"),
        }
    }
}

setting! {
    LoadCriteria = of_parts {
        change: Share, sustain: u8, tube: Option<TubeResistance>, weight: Option<Mass>,
    }
}

#[cfg(test)]
mod known_tests;
#[cfg(test)]
mod limit_tests;
#[cfg(test)]
mod tests;
