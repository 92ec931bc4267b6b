//! The leak path: how the flow past the lung grows with pressure, learned from closed breaths.
//!
//! Flow past the lung = offset + slope × pressure + rooted × √pressure at the tip of the tube. The offset
//! also takes a zero that has drifted and a leak that opens only above some pressure.

use super::WarmUpOutcome;
use super::curve::{Curve, Evidence};
use super::drive::{Drive, Drives};
use crate::breath::{Breath, PhaseIntegrals};
use crate::mechanics::TubeResistance;
use crate::quantity::unit::MlPerS;
use crate::quantity::{
    Area, Flow, Mass, Pressure, Resistance, Saturated, SettingError, Share, SquareResistance,
    Volume, const_default, setting,
};
use crate::record;
use crate::signal::{End, Flags, Reading};

/// Settings of the learner: the tube whose tip the leak begins at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LeakPath {
    tube: Tube,
}

const_default! {
    LeakPath: Self { tube: Tube::Unknown }
}

record! {
    #[const_default(Unknown)]
    /// What is known of the tube.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub enum Tube {
        /// Nothing: none is reckoned with.
        Unknown = 0,
        /// Its own coefficients.
        Measured(TubeResistance) = 1,
        /// Those of its size, or others that are about right.
        Likely(TubeResistance) = 2,
        /// Those of a tube such as an infant of that weight usually has.
        ByWeight(TubeResistance) = 3,
    }
}

record! {
    #[const_default]
    /// What the learner remembers: points over a window that forgets within about eight breaths.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct LeakPathState {
        points: Evidence,
        /// The mean of the breath before, kept for a fresh start after a step in leak; the quiet end before
        /// that breath is of the old leak.
        previous: Evidence,
        /// The sign of the last breath's misfit, where it was large.
        misfit: i8,
        /// Mean distance of a breath's net flow from the model.
        scatter: Area<MlPerS>,
        /// Net and inspired flow over the window.
        net: Area<MlPerS>,
        inspired: Area<MlPerS>,
        curve: Option<Curve>,
        /// The latest flow and pressure at which nobody breathed; how far above the curve that usually
        /// lies; and what it lies above that now, where it is no noise.
        still: Option<(Flow, Pressure)>,
        bent: Flow,
        lift: Flow,
        breaths: u8,
        /// The guess before the first breath came from a quiet beginning.
        quiet_guess: bool,
    }
}

/// Below this a leak not known yet changes a first breath by less than its noise. Chosen here, no source.
const LITTLE_LEAK: Share = Share::from_percent(5);
/// Breaths before the curve is known well enough to say what is usual. Chosen here, no source.
const FIRST: u8 = 8;
/// The least distance of a quiet flow from the curve that moves the level. Chosen here, no source.
const LEAST_LIFT: Flow = Flow::from_milli(600).value;

impl LeakPath {
    /// With what is known of the tube.
    #[must_use]
    pub const fn with_tube(self, tube: Tube) -> Self {
        Self { tube }
    }

    const fn of_tube(tube: Tube) -> Result<Self, SettingError> {
        Ok(Self { tube })
    }

    /// No weight tells of a tube any more; one that was given stays.
    pub(crate) const fn without_weight(self) -> Self {
        match self.tube {
            Tube::ByWeight(_) => Self { tube: Tube::Unknown },
            Tube::Unknown | Tube::Measured(_) | Tube::Likely(_) => self,
        }
    }

    /// With a tube such as an infant of this weight usually has, unless it is known: 22 cmH2O/(L/s) and
    /// 500 cmH2O/(L/s)² below 1.8 kg, 12 and 200 up to 6 kg (from memory, no source; by Poiseuille's law
    /// tubes of 2.5 and 3.0 mm and 14 cm lose 27 and 13 cmH2O/(L/s) at least). None above 6 kg.
    #[must_use]
    pub(crate) fn with_weight(self, weight: Mass) -> Self {
        let (k1, k2) = match weight.grams() {
            ..1_800 => (22, 500),
            1_800..=6_000 => (12, 200),
            _ => return self,
        };
        let k2 = SquareResistance::from_int(k2).get();
        match (self.tube, TubeResistance::new(Resistance::from_int(k1), k2)) {
            (Tube::Unknown | Tube::ByWeight(_), Ok(tube)) => Self { tube: Tube::ByWeight(tube) },
            _ => self,
        }
    }

    /// What is known of the tube.
    #[must_use]
    pub const fn tube(&self) -> Tube {
        self.tube
    }

    /// The pressure at the tip of the tube. Clamps, and says so.
    fn tip(&self, reading: Reading) -> Saturated<Pressure> {
        match &self.tube {
            Tube::Unknown => Saturated::exact(reading.pressure),
            Tube::Measured(tube) | Tube::Likely(tube) | Tube::ByWeight(tube) => {
                tube.tracheal(reading.pressure, reading.flow)
            }
        }
    }

    /// The reading with the leak taken off: the flow into the lung. Clamps, and says so.
    ///
    /// Cost: two wide multiplies and a root, and two multiplies for the tube.
    #[doc(hidden)]
    pub fn correct(&self, state: &LeakPathState, reading: Reading) -> Saturated<End> {
        let tip = self.tip(reading);
        let past = state.at_tip(tip.value);
        let Reading { flow, pressure } = reading;
        let lung = flow.saturating_sub(past.value);
        let saturated = tip.saturated || past.saturated || lung.saturated;
        Saturated { value: End { flow, lung: lung.value, pressure, tip: tip.value }, saturated }
    }

    /// The modelled flow past the lung at a pressure while nothing flows in the tube; `None` as long as
    /// nothing is known.
    #[must_use]
    #[doc(hidden)]
    pub fn flow_at(&self, state: &LeakPathState, pressure: Pressure) -> Option<Saturated<Flow>> {
        state.curve.map(|_| state.at_tip(pressure))
    }

    /// What of a summed stretch went into the lung: its volume less what the model lets past it. Two
    /// wide divides.
    #[doc(hidden)]
    pub fn into_lung(&self, state: &LeakPathState, sums: &PhaseIntegrals) -> Saturated<Volume> {
        let volume = sums.volume();
        let area = state.past(&Drive::of(sums));
        let past = area.value.in_seconds();
        let rest = volume.value.saturating_sub(past.value);
        let saturated = volume.saturated || area.saturated || past.saturated || rest.saturated;
        Saturated { value: rest.value, saturated }
    }

    /// Whether a closed breath was cut out with a leak that it shows to be wrong:
    /// [`Flags::UNSETTLED`], for its volumes are not to be trusted. To be asked before
    /// [`learn`](Self::learn). At most eight wide divides.
    ///
    /// That is so for two breaths in a row whose flow misses the model the same way by more than a
    /// quarter of their inspired volume, and for a first breath under a guess if it leaks.
    #[must_use]
    #[doc(hidden)]
    pub fn judge(&self, state: &LeakPathState, breath: &Breath) -> Flags {
        let unsettled = || {
            let drives = Drives::of(breath);
            state.is_unsettled(&drives, state.miss_of(&drives))
        };
        Flags::when(Flags::UNSETTLED, breath.is_measured() && unsettled())
    }

    /// Learns from a closed breath; one whose measurement was flagged changes nothing. Some forty wide
    /// divides: 12 000 instructions on a Cortex-M4.
    ///
    /// The window follows a step in leak faster than it forgets: such a
    /// [pair of breaths](Self::judge) starts it afresh. One that misses alone counts an eighth.
    #[doc(hidden)]
    pub fn learn(&self, state: &mut LeakPathState, breath: &Breath) {
        let _ = self.judge_and_take(state, breath);
        self.conclude(state, breath);
    }

    /// [Judges](Self::judge) a breath and takes it as evidence, from which nothing is
    /// [concluded](Self::conclude) yet.
    #[inline(never)]
    pub(crate) fn judge_and_take(&self, state: &mut LeakPathState, breath: &Breath) -> Flags {
        if !breath.is_measured() {
            return Flags::NONE;
        }
        let drives = Drives::of(breath);
        let miss = state.miss_of(&drives);
        let unsettled = state.is_unsettled(&drives, miss);
        state.take(breath, &drives, miss);
        Flags::when(Flags::UNSETTLED, unsettled)
    }

    /// What follows from the evidence of a breath that was just taken.
    #[inline(never)]
    pub(crate) fn conclude(&self, state: &mut LeakPathState, breath: &Breath) {
        if breath.is_measured() {
            state.conclude();
            state.bend();
        }
    }

    /// A flow and a pressure at which nobody breathes: from here on they are the level of what flows
    /// past the lung, whatever the curve says, unless they lie on it but for noise (0.6 mL/s, and a sixteenth
    /// of the usual inspired volume a second). Whether the
    /// level moved.
    #[doc(hidden)]
    pub fn level(&self, state: &mut LeakPathState, flow: Flow, pressure: Pressure) -> bool {
        let was = state.lift;
        // No leak flows outward: that is a slow lung's tail, or a zero, which is another's to tell.
        if flow < Flow::ZERO {
            return false;
        }
        state.still = Some((flow, pressure));
        state.lift_line();
        state.lift != was
    }

    /// Before the first breath is closed: takes what [`LeakWarmUp`](super::LeakWarmUp) allows. A guess
    /// costs some six wide divides.
    #[doc(hidden)]
    pub fn settle(&self, state: &mut LeakPathState, settled: WarmUpOutcome) {
        if !state.is_guessing() {
            return;
        }
        match settled {
            WarmUpOutcome::Quiet(sums) | WarmUpOutcome::Late(sums) => {
                state.quiet_guess = matches!(settled, WarmUpOutcome::Quiet(_));
                state.guess_by(&sums);
                state.conclude();
            }
            WarmUpOutcome::Void => state.forget(),
            WarmUpOutcome::Wait => {}
        }
    }

    /// What the doubt of the tube's loss changes in the flow past the lung at a pressure at the tip and a
    /// flow in the tube: an eighth of a measured loss, half of another.
    pub(super) fn tube_doubt(&self, state: &LeakPathState, tip: Pressure, flow: Flow) -> Flow {
        let loss = match &self.tube {
            Tube::Unknown => Pressure::ZERO,
            Tube::Measured(tube) => tube.drop(flow).value.halved(3),
            Tube::Likely(tube) | Tube::ByWeight(tube) => tube.drop(flow).value.halved(1),
        };
        let other = tip.saturating_add(loss).value;
        state.at_tip(other).value.saturating_sub(state.at_tip(tip).value).value
    }
}

impl LeakPathState {
    /// Nothing is known any more but what flows on the whole.
    pub fn restart(&mut self, mean: Flow) {
        self.forget();
        self.curve = Some(Curve::level(mean));
    }

    /// Nothing is known but the mean of a stretch.
    #[inline(never)]
    fn guess_by(&mut self, sums: &PhaseIntegrals) {
        self.points = Evidence::of_mean(sums);
    }

    #[inline(never)]
    fn forget(&mut self) {
        *self = Self::default();
    }

    /// Whether no breath has taught anything yet.
    #[must_use]
    pub const fn is_guessing(&self) -> bool {
        self.breaths == 0
    }

    /// Whether it was cut out with a leak that it shows to be wrong.
    fn is_unsettled(&self, drives: &Drives, miss: Area<MlPerS>) -> bool {
        if self.has_stepped(misfit(miss, drives.inspired)) {
            return true;
        }
        let share = || drives.net.share_of(drives.inspired).and_then(Saturated::within);
        self.is_guessing() && !self.quiet_guess && share().is_some_and(|share| share > LITTLE_LEAK)
    }

    /// Takes a breath, which misses the model by so much, as evidence.
    fn take(&mut self, breath: &Breath, drives: &Drives, miss: Area<MlPerS>) {
        let miss = self.hold_level_against(drives, miss);
        let missed = misfit(miss, drives.inspired);
        let shift = if self.has_stepped(missed) || self.is_guessing() {
            self.points = self.previous;
            self.misfit = 0;
            0
        } else {
            self.points.fade();
            self.misfit = missed;
            if missed == 0 { 0 } else { 3 }
        };
        self.previous = Evidence::of_breath(breath, drives);
        self.points.add(&self.previous, shift);
        self.points.add(&Evidence::of_quiet(breath), shift);
        for (sum, more) in [(&mut self.net, drives.net), (&mut self.inspired, drives.inspired)] {
            sum.fade();
            *sum = sum.saturating_add(more);
        }
        self.scatter = self.scatter.lowpass(miss.saturating_abs(), 2);
        self.breaths = self.breaths.saturating_add(1);
    }

    fn at_tip(&self, tip: Pressure) -> Saturated<Flow> {
        let Some(curve) = &self.curve else { return Saturated::exact(Flow::ZERO) };
        let flow = curve.at(tip);
        let lifted = flow.value.saturating_add(self.lift);
        Saturated { value: lifted.value, saturated: flow.saturated || lifted.saturated }
    }

    /// What the model lets past the lung over a phase.
    fn past(&self, phase: &Drive) -> Saturated<Area<MlPerS>> {
        let Some(curve) = &self.curve else { return Saturated::exact(Area::ZERO) };
        curve.over(phase, self.lift)
    }

    /// The leak over the window as a share of the inspired volume; `None` before the first breath.
    /// One wide divide.
    #[must_use]
    pub fn window_share(&self) -> Option<Share> {
        if self.is_guessing() {
            return None;
        }
        self.net.share_of(self.inspired)?.within()
    }

    /// Whether the last breath missed the model by more than a quarter of its inspired volume.
    #[must_use]
    pub const fn is_misfit(&self) -> bool {
        self.misfit != 0
    }

    /// Mean distance of a breath's net volume from the model. One wide divide.
    #[must_use]
    pub const fn scatter(&self) -> Volume {
        self.scatter.in_seconds().value
    }

    /// What the model lets past the lung over a phase, by as much as its course is a guess.
    pub(super) fn guessed_past(&self, phase: &PhaseIntegrals) -> Volume {
        self.past(&Drive::of(phase)).value.in_seconds().value.times(self.points.guessed()).value
    }

    /// How far the curve is in doubt at a pressure, as a factor to the doubt of one quiet end.
    pub(super) fn doubt(&self, tip: Pressure) -> Share {
        self.points.doubt(tip)
    }

    fn conclude(&mut self) {
        self.curve = self.points.curve().or(self.curve);
        self.lift_line();
    }

    /// A level that the balance of a breath speaks against was none: ripple may stand still for a while. What
    /// the breath misses the model by with it, and without it where it is dropped.
    fn hold_level_against(&mut self, breath: &Drives, with: Area<MlPerS>) -> Area<MlPerS> {
        let lift = core::mem::take(&mut self.lift);
        let without = if lift == Flow::ZERO { with } else { self.miss_of(breath) };
        if with.is_smaller_than(without) {
            self.lift = lift;
            with
        } else {
            self.still = None;
            without
        }
    }

    /// Learns how far above the curve a quiet flow usually lies, as long as its level stays.
    fn bend(&mut self) {
        let Some((flow, pressure)) = self.still else { return };
        let line = self.at_tip(pressure).value.saturating_sub(self.lift).value;
        let above = flow.saturating_sub(line).value;
        if self.breaths <= FIRST {
            (self.bent, self.lift) = (above, Flow::ZERO);
        } else if self.lift == Flow::ZERO {
            self.bent = self.bent.learned(above);
        }
    }

    fn lift_line(&mut self) {
        self.lift = Flow::ZERO;
        let Some((flow, pressure)) = self.still else { return };
        let above = flow.saturating_sub(self.at_tip(pressure).value).value;
        let above = above.saturating_sub(self.bent).value;
        // A sixteenth of the usual inspired volume a second: the window keeps eight of them.
        let usual = self.inspired.fraction(7).in_seconds().value.each_second();
        let least = LEAST_LIFT.max(usual);
        if above > least || above < Flow::ZERO.saturating_sub(least).value {
            self.lift = above;
        }
    }

    /// Whether a breath misses the model as the one before did.
    const fn has_stepped(&self, misfit: i8) -> bool {
        misfit != 0 && misfit == self.misfit
    }

    /// The breath's net flow less the modelled leak.
    fn miss_of(&self, breath: &Drives) -> Area<MlPerS> {
        if self.curve.is_none() {
            return Area::ZERO;
        }
        let (inspiration, expiration) = (&breath.inspiration, &breath.expiration);
        let past = self.past(inspiration).value.saturating_add(self.past(expiration).value);
        breath.net.saturating_sub(past)
    }
}

/// −1 or 1 where a miss is more than a quarter of the inspired volume; any miss is, where nothing was.
fn misfit(miss: Area<MlPerS>, inspired: Area<MlPerS>) -> i8 {
    let quarter = inspired.max(Area::ZERO).fraction(2);
    if miss > quarter {
        1
    } else if miss < Area::ZERO.saturating_sub(quarter) {
        -1
    } else {
        0
    }
}

setting! { LeakPath = of_tube { tube: Tube } }

#[cfg(test)]
mod tests;
