//! The watch: blocks in, efforts out; and what it learns of each closed breath.

use super::block::{Block, Blocks};
use super::expiration::Expiration;
use super::inflation::{Airway, BEFORE, Inflation, Rise};
use super::motion::{EMPTYING, Motion, SeenMotion};
use super::usual::UsualRise;
use crate::breath::{Breath, Kind, Phase, SegmenterState, Totals};
use crate::quantity::{
    Duration, Flow, Instant, Pressure, SettingError, Share, const_default, setting,
};
use crate::record;
use crate::signal::{Flags, Interval};

/// Watches for efforts that got no inflation of their own, by the muscle pressure left over by the equation
/// of motion.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct EffortWatch {
    least: Pressure,
}

const_default! {
    /// Efforts of 1 cmH2O: chosen on simulated infants, no source.
    EffortWatch: Self { least: Pressure::from_int(1) }
}

record! {
    /// An effort that got no inflation of its own.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    #[must_use]
    pub struct Effort {
        /// When it stood out, at the latest block of 20 ms; under an inflation when it was largest.
        pub at: Instant,
        /// How far the muscle pressure left over rose: a quarter to all of the true one.
        pub size: Pressure,
        /// Whether an inflation ran.
        pub during: Phase,
        /// How long after the machine's rise of pressure it began, where it came under an inflation that the
        /// infant had not set off.
        pub after: Option<Duration>,
    }
}

record! {
    /// How far the infant's muscle pressure left over rose about the moment at which an inflation began: a
    /// quarter to all of the true one.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub struct Pull {
        /// From its least in the 0.18 s before to its most in the 0.23 s after.
        pub size: Pressure,
        /// How far ripple moves it in the mean, either way.
        pub ripple: Pressure,
    }
}

record! {
    #[const_default]
    /// What the watch saw of a breath that has ended.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct SeenEffort {
        /// What the infant did as it began.
        pub pull: Option<Pull>,
        /// Under the machine's pressure.
        under: Option<Under>,
        /// How far the muscle pressure rose in expiration.
        expiration: Option<Pressure>,
        motion: SeenMotion,
    }
}

record! {
    /// How far the muscle pressure rose under the machine's, and there anew after what set it off; and how
    /// long after the machine's rise it first stood out.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    struct Under {
        most: Rise,
        again: Rise,
        began_after: Option<Duration>,
    }
}

record! {
    #[const_default]
    /// What the watch remembers.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct EffortState {
        blocks: Blocks,
        motion: Motion,
        /// What the two blocks before left over: three are one value.
        left: Option<(Pressure, Pressure)>,
        inflation: Option<Inflation>,
        expiration: Option<Expiration>,
        /// The flow of the breath under way has turned outward.
        turned: bool,
        /// How far it usually rises: under an inflation, there after a first effort, in expiration.
        usual: [UsualRise; 3],
        /// A slow mean, and how far the rest strays from it: ripple.
        middle: Option<Pressure>,
        ripple: Pressure,
        last: Option<Instant>,
    }
}

/// What is known beside the flow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[doc(hidden)]
pub struct EffortContext {
    /// Which way the gas goes.
    pub phase: Phase,
    /// Where the machine's rise of pressure began in this breath; `None` as long as there was none.
    pub risen: Option<Instant>,
    /// The flow turned outward there.
    pub turned: Instant,
    /// Pressure between inflations.
    pub baseline: Pressure,
    /// The largest of this breath so far.
    pub peak: Pressure,
    /// Flow into the lung.
    pub flow: Flow,
    /// The peak flow of a usual inspiration.
    pub usual_flow: Flow,
}

/// Two efforts closer than this are one.
const ONE_EFFORT: Duration = Duration::from_millis(300);
/// A pressure that blocks leave over is asked from here on before the rise.
const LEARN: Duration = Duration::from_millis(40);
/// What stands out from what is usual. Chosen on simulated infants, no source.
const MARGIN: Pressure = Pressure::from_milli(400).value;
/// Before what is usual is known.
const AT_FIRST: Pressure = Pressure::from_int(2);
/// Ripple strays from its mean by at most this.
const MOST_RIPPLE: Pressure = Pressure::from_int(1);

impl EffortWatch {
    /// A watch for efforts of at least `least` (0.5 to 20 cmH2O). It asks for more where ripple, or what the
    /// equation of motion gets wrong in this infant each time, is larger.
    ///
    /// # Errors
    /// `least` outside its range.
    pub fn new(least: Pressure) -> Result<Self, SettingError> {
        let smallest = Pressure::from_milli(500).value;
        SettingError::within("least", least, smallest, Pressure::from_int(20))?;
        Ok(Self { least })
    }

    /// The least muscle pressure that is an effort.
    #[must_use]
    pub const fn least(&self) -> Pressure {
        self.least
    }

    /// Takes an interval and the totals at its end, and what the segmenter says of it, which is asked for every
    /// 20 ms alone. An effort in expiration that made no breath. Additions; every 20 ms some twenty wide
    /// multiplies and two divides.
    #[doc(hidden)]
    pub fn step(
        &self,
        state: &mut EffortState,
        interval: &Interval,
        totals: &Totals,
        around: impl FnOnce() -> EffortContext,
    ) -> Option<Effort> {
        if interval.flags.has(Flags::GAP) {
            state.lose();
            return None;
        }
        if !state.blocks.step(interval, totals) {
            return None;
        }
        self.block(state, around())
    }

    /// A block has ended.
    #[inline(never)]
    fn block(&self, state: &mut EffortState, around: EffortContext) -> Option<Effort> {
        match (state.inflation.is_some(), around.risen) {
            (false, Some(from)) => {
                state.begin(from, around);
                return None;
            }
            (false, None) if around.phase != Phase::Expiration => {
                state.next();
                return None;
            }
            _ => {}
        }
        let (before, block) = state.blocks.latest()?;
        state.follow(&before, &block, around);
        let (at, muscle) = (block.at, state.next()?);
        if let Some(inflation) = &mut state.inflation {
            inflation.take(at, muscle, || around.airway(&before, &block), state.turned);
            if !inflation.is_released() {
                return None;
            }
        }
        self.expire(state, at, muscle, around)
    }

    fn expire(
        &self,
        state: &mut EffortState,
        at: Instant,
        muscle: Pressure,
        around: EffortContext,
    ) -> Option<Effort> {
        let EffortContext { flow, usual_flow, .. } = around;
        let outward = Flow::ZERO.saturating_sub(flow).value;
        let rise = around.peak.saturating_sub(around.baseline).value;
        let least = self.least_rise(
            state,
            2,
            if state.inflation.is_some() { rise } else { Pressure::ZERO },
        );
        let expiration = state.expiration.get_or_insert(Expiration::begin(at));
        let effort = expiration.take(at, muscle, least);
        let middle = state.middle.unwrap_or(muscle).lowpass(muscle, 3);
        state.middle = Some(middle);
        // As long as the lung empties, what the model gets wrong is no ripple.
        if expiration.is_quiet(at) && outward < usual_flow.halved(2) {
            let away = muscle.saturating_sub(middle).value;
            let away = away.max(Pressure::ZERO.saturating_sub(away).value);
            let away = away.min(MOST_RIPPLE);
            let away = away.saturating_add(away.halved(2)).value;
            state.ripple = state.ripple.lowpass(away, 7);
        }
        state.say(effort?, Phase::Expiration, None)
    }

    /// What an effort must rise by, under or after a machine's `rise`: where it is looked for as in
    /// [`EffortState::usual`].
    fn least_rise(&self, state: &EffortState, place: usize, rise: Pressure) -> Pressure {
        let usual = state.usual.get(place).copied().unwrap_or_default();
        // Three and a half times what ripple strays by.
        let twice = state.ripple.saturating_add(state.ripple).value;
        let ripple = twice.saturating_add(state.ripple).value;
        let ripple = ripple.saturating_add(state.ripple.halved(1)).value;
        self.least.max(ripple).max(usual.and(rise, MARGIN, AT_FIRST))
    }

    /// What was seen of a breath whose end was just found: what comes now belongs to the next.
    #[doc(hidden)]
    pub fn end_breath(&self, state: &mut EffortState, seen: &mut SeenEffort) {
        seen.pull = state.pull();
        seen.under = state.inflation.as_ref().map(|inflation| Under {
            most: inflation.most(),
            again: inflation.again(),
            began_after: inflation.began_after(),
        });
        seen.expiration = state.expiration.as_ref().map(Expiration::most);
        (state.inflation, state.expiration) = (None, None);
        state.motion.end_breath(&mut seen.motion);
        state.blocks.count_afresh();
        (state.turned, state.middle, state.left) = (false, None, None);
    }

    /// Takes what was [seen](Self::end_breath) of a breath, the breath with all its flags, and whether the
    /// infant set it off: an effort under its pressure that did not, or one that came anew. Trusted inflations
    /// teach what is usual.
    #[doc(hidden)]
    pub fn close(
        &self,
        state: &mut EffortState,
        seen: &mut SeenEffort,
        breath: &Breath,
        by_infant: bool,
    ) -> Option<Effort> {
        if !breath.is_trusted() {
            return None;
        }
        seen.motion.join();
        let of = breath.peak.saturating_sub(breath.baseline).value;
        let effort = seen.under.and_then(|under| {
            let (rise, place) = if by_infant { (under.again, 1) } else { (under.most, 0) };
            let least = self.least_rise(state, place, of);
            state.learn(place, rise.size, of);
            let after = under.began_after.filter(|_| !by_infant);
            Some((rise, after)).filter(|_| rise.size > least && state.motion.is_known())
        });
        if let Some(most) = seen.expiration.filter(|_| breath.kind == Kind::Inflation) {
            state.learn(2, most, of);
        }
        let (rise, after) = effort?;
        state.say(rise, Phase::Inspiration, after)
    }

    /// Learns the terms of the equation of motion of a trusted inflation, after [`close`](Self::close). Three
    /// 64-bit divides.
    #[doc(hidden)]
    pub fn learn(&self, state: &mut EffortState, seen: &mut SeenEffort, breath: &Breath) {
        if teaches(breath) {
            state.motion.learn(&seen.motion, breath);
        }
        seen.motion.forget();
    }

    /// Learns by how much flow lags behind pressure, after [`learn`](Self::learn).
    #[doc(hidden)]
    pub fn learn_lag(&self, state: &mut EffortState, breath: &Breath) {
        if teaches(breath) {
            state.motion.learn_lag();
        }
    }
}

/// Whether a breath teaches the terms of the equation of motion.
fn teaches(breath: &Breath) -> bool {
    breath.is_trusted() && breath.kind == Kind::Inflation
}

impl EffortContext {
    /// By a segmenter, with the latest flow into the lung.
    #[must_use]
    pub fn of(segment: &SegmenterState, flow: Flow) -> Self {
        Self {
            phase: segment.phase(),
            risen: segment.risen(),
            turned: segment.end_insp(),
            baseline: segment.baseline(),
            peak: segment.peak(),
            flow,
            usual_flow: segment.usual_peak_flow(),
        }
    }

    fn airway(&self, before: &Block, block: &Block) -> Airway {
        let (pressure, before) = (block.pressure(), before.pressure());
        Airway { pressure, before, baseline: self.baseline, peak: self.peak }
    }
}

impl EffortState {
    /// How far the sensor's flow lags behind its pressure, by the inflations of late; `None` as long as that
    /// is not known. The inertance of the gas counts as a part of it.
    #[must_use]
    pub const fn lag(&self) -> Option<Duration> {
        self.motion.lag()
    }

    /// How far ripple moves the muscle pressure in the mean, either way.
    #[must_use]
    pub const fn ripple(&self) -> Pressure {
        self.ripple
    }

    /// What the infant did as the inflation under way began.
    #[must_use]
    pub fn pull(&self) -> Option<Pull> {
        let size = self.inflation.as_ref().filter(|_| self.motion.is_known())?.pull()?;
        Some(Pull { size, ripple: self.ripple })
    }

    /// Readings were missing: nothing can be made of this breath.
    fn lose(&mut self) {
        self.blocks.forget();
        (self.inflation, self.expiration) = (None, None);
    }

    /// The machine's rise has been seen: what lies before it and since is taken from the blocks kept.
    fn begin(&mut self, from: Instant, around: EffortContext) {
        self.left = None;
        let Self { blocks, motion, left, inflation, .. } = self;
        let inflation = inflation.insert(Inflation::begin(from));
        let (since, learn) = (from.before(BEFORE), from.before(LEARN));
        blocks.for_pairs(|before, block| {
            if before.at < since {
                return;
            }
            if block.at >= learn {
                motion.add(block, before);
            }
            let muscle = smoothed(left, motion.left(block, before));
            inflation.take(block.at, muscle, || around.airway(before, block), false);
        });
    }

    /// Adds the latest block to what is learned of an inflation.
    fn follow(&mut self, before: &Block, block: &Block, around: EffortContext) {
        let turned = around.phase == Phase::Expiration;
        if turned && !self.turned {
            self.motion.end_stretch();
            self.turned = true;
        }
        let teaches = !turned || block.at.since(around.turned) <= EMPTYING;
        if self.inflation.is_some() && teaches {
            self.motion.add(block, before);
        }
    }

    /// What the latest block leaves over, with the two before it.
    fn next(&mut self) -> Option<Pressure> {
        let (before, block) = self.blocks.latest()?;
        Some(smoothed(&mut self.left, self.motion.left(&block, &before)))
            .filter(|_| self.motion.is_known())
    }

    fn learn(&mut self, place: usize, rise: Pressure, of: Pressure) {
        if let Some(usual) = self.usual.get_mut(place).filter(|_| self.motion.is_known()) {
            usual.take(rise, of);
        }
    }

    fn say(&mut self, rise: Rise, during: Phase, after: Option<Duration>) -> Option<Effort> {
        let again = self.last.is_some_and(|last| rise.at.since(last) < ONE_EFFORT);
        self.last = Some(rise.at);
        (!again).then_some(Effort { at: rise.at, size: rise.size, during, after })
    }
}

/// The mean of a value and the two before it.
fn smoothed(left: &mut Option<(Pressure, Pressure)>, now: Pressure) -> Pressure {
    let (two, one) = left.unwrap_or((now, now));
    *left = Some((one, now));
    two.saturating_add(one).value.saturating_add(now).value.times(THIRD).value
}

/// Toward zero: 21 845 ÷ 65 536.
const THIRD: Share = Share::of_counts(1, 3).unwrap();

setting! { EffortWatch = new { least: Pressure } }
