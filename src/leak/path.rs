//! The leak path: conductance of the gap beside the tube, learned from closed breaths.
//!
//! Over whole breaths the lung returns to its volume, so all that flowed in net went through the
//! leak: ∫Q = k·∫f(P), with f(P) = √P for an orifice (the usual law for a gap round a short tube)
//! or P for a laminar path. The ratio of both integrals over a window is the conductance k.

use super::Settled;
use crate::breath::{Breath, Sums};
use crate::quantity::{
    Conductance, Drive, Flow, Limited, Pressure, Problem, SettingError, Share, Span, Volume, arith,
};
use crate::record;
use crate::signal::{End, Flags, Reading};

/// How the leak grows with pressure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Law {
    /// Q = k·√P; k in mL/s per √cmH2O. Below ambient the leak flows inward: −k·√−P.
    #[default]
    Orifice,
    /// Q = k·P; k in mL/s per cmH2O.
    Laminar,
}

impl Law {
    /// What drives the leak at a pressure.
    #[must_use]
    pub fn drive(self, pressure: Pressure) -> Drive {
        match self {
            Self::Orifice => Drive::new(pressure.root()),
            Self::Laminar => Drive::new(pressure.get()),
        }
    }
}

/// Settings of the learner.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LeakPath {
    law: Law,
    min_drive: Drive,
}

impl Default for LeakPath {
    /// Orifice law; a mean pressure of 1 cmH2O is needed.
    fn default() -> Self {
        Self { law: Law::Orifice, min_drive: Drive::from_int(1) }
    }
}

record! {
    /// What the learner remembers: sums over a window that forgets within about eight breaths.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct LeakPathState {
        window: Window,
        /// The breath before, kept for a fresh start after a step in leak.
        previous: Window,
        /// The sign of the last breath's misfit, where it was large.
        misfit: i8,
        /// Mean distance of a breath's net flow from the model, as a doubled area.
        scatter: i64,
        /// Inspired flow over the window, as a doubled area.
        inspired: i64,
        conductance: Option<Conductance>,
        /// The guess before the first breath came from a quiet beginning.
        quiet_guess: bool,
    }
}

record! {
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    struct Window {
        flow: i64,
        drive: i64,
        span: Span,
    }
}

impl Window {
    fn of(sums: &Sums) -> Self {
        Self { flow: sums.flow_area(), drive: sums.drive_area(), span: sums.span() }
    }

    fn of_breath(breath: &Breath) -> Self {
        Self::of(&breath.inspiration.with(&breath.expiration))
    }

    fn with(self, other: Self) -> Self {
        Self {
            flow: arith::accumulate(self.flow, other.flow).value,
            drive: arith::accumulate(self.drive, other.drive).value,
            span: self.span.saturating_add(other.span),
        }
    }

    /// Seven eighths of it.
    fn faded(self) -> Self {
        let eighth = arith::eighth_u64(self.span.to_us());
        Self {
            flow: faded(self.flow),
            drive: faded(self.drive),
            span: self.span.saturating_sub(Span::from_us(eighth)),
        }
    }
}

/// Below this a leak not known yet changes a first breath by less than its noise.
const LITTLE_LEAK: Share = Share::from_percent(5);

fn faded(x: i64) -> i64 {
    x.saturating_sub(arith::fraction(x, 3))
}

impl LeakPath {
    /// A learner with a law, and the least mean drive it takes (above zero, at most 100; in the
    /// law's unit): below it nothing presses gas through the gap and k cannot be known.
    ///
    /// # Errors
    /// `min_drive` outside its range.
    pub fn new(law: Law, min_drive: Drive) -> Result<Self, SettingError> {
        if min_drive <= Drive::ZERO {
            Err(SettingError::new("min_drive", Problem::NotPositive))
        } else if min_drive > Drive::from_int(100) {
            Err(SettingError::new("min_drive", Problem::TooLarge))
        } else {
            Ok(Self { law, min_drive })
        }
    }

    /// The leak law.
    #[must_use]
    pub const fn law(&self) -> Law {
        self.law
    }

    /// The reading with the leak taken off: the flow into the lung. Clamps, and says so.
    ///
    /// Cost: one table root and one wide multiply.
    pub fn correct(&self, state: &LeakPathState, reading: Reading) -> Limited<End> {
        let drive = self.law.drive(reading.pressure);
        let leak = state.flow_at_drive(drive);
        let Reading { flow, pressure } = reading;
        let lung = flow.saturating_sub(leak.value);
        let saturated = leak.saturated || lung.saturated;
        Limited { value: End { flow, lung: lung.value, pressure, drive }, saturated }
    }

    /// The modelled leak flow at a pressure; `None` as long as nothing is known.
    #[must_use]
    pub fn flow_at(&self, state: &LeakPathState, pressure: Pressure) -> Option<Limited<Flow>> {
        state.conductance.map(|_| state.flow_at_drive(self.law.drive(pressure)))
    }

    /// What of a summed stretch went into the lung: its volume less the modelled leak. Two wide
    /// divides.
    pub fn into_lung(&self, state: &LeakPathState, sums: &Sums) -> Limited<Volume> {
        let volume = sums.volume();
        let Some(k) = state.conductance else { return volume };
        let leak = arith::mul_wide(sums.drive_area(), k.to_bits());
        let leak_volume = arith::area_to_q16(leak.value);
        let rest = volume.value.saturating_sub(Volume::from_bits(leak_volume.value));
        let saturated =
            volume.saturated || leak.saturated || leak_volume.saturated || rest.saturated;
        Limited { value: rest.value, saturated }
    }

    /// Whether a closed breath was cut out with a leak that it shows to be wrong:
    /// [`Flags::UNSETTLED`], for its volumes are not to be trusted. To be asked before
    /// [`learn`](Self::learn). At most two wide divides.
    ///
    /// That is so for two breaths in a row whose flow misses the model the same way by more than a
    /// quarter of their inspired volume, and for a first breath under a guess if it leaks.
    #[must_use]
    pub fn judge(&self, state: &LeakPathState, breath: &Breath) -> Flags {
        let unsettled = breath.is_measured() && {
            let (whole, inspired) = (Window::of_breath(breath), breath.inspiration.flow_area());
            state.has_stepped(whole, inspired) || {
                let share = || arith::ratio_q16(whole.flow, inspired).and_then(Limited::within);
                state.is_guessing()
                    && !state.quiet_guess
                    && self.conductance(whole).is_some()
                    && share().is_some_and(|share| Share::from_bits(share) > LITTLE_LEAK)
            }
        };
        Flags::when(Flags::UNSETTLED, unsettled)
    }

    /// Learns from a closed breath; one whose measurement was flagged changes nothing. Two wide
    /// divides.
    ///
    /// The window follows a step in leak faster than it forgets: such a
    /// [pair of breaths](Self::judge) starts it afresh.
    pub fn learn(&self, state: &mut LeakPathState, breath: &Breath) {
        if !breath.is_measured() {
            return;
        }
        let (whole, inspired) = (Window::of_breath(breath), breath.inspiration.flow_area());
        let miss = state.miss_of(whole);
        if state.has_stepped(whole, inspired) {
            state.window = state.previous.with(whole);
            state.inspired = inspired.saturating_mul(2);
            state.misfit = 0;
        } else {
            state.window = state.window.faded().with(whole);
            state.inspired = faded(state.inspired).saturating_add(inspired);
            state.misfit = misfit(miss, inspired);
        }
        let distance = i64::try_from(miss.unsigned_abs()).unwrap_or(i64::MAX);
        state.scatter = arith::lowpass_wide(state.scatter, distance, 2);
        state.previous = whole;
        state.conductance = self.conductance(state.window);
    }

    /// Before the first breath is closed: takes what [`Settling`](super::Settling) allows. A guess
    /// costs two wide divides.
    pub fn settle(&self, state: &mut LeakPathState, settled: Settled) {
        if !state.is_guessing() {
            return;
        }
        match settled {
            Settled::Quiet(sums) | Settled::Late(sums) => {
                state.quiet_guess = matches!(settled, Settled::Quiet(_));
                state.conductance = self.conductance(Window::of(&sums));
            }
            Settled::Void => {
                state.quiet_guess = false;
                state.conductance = None;
            }
            Settled::Wait => {}
        }
    }

    /// The inspiratory part of the leak if it followed the other law; `None` where nothing drives.
    pub(super) fn other_split(&self, inspiration: &Sums, whole: &Sums) -> Option<Share> {
        let (i, all) = match self.law {
            Law::Orifice => (inspiration.pressure_area(), whole.pressure_area()),
            // The root of the mean pressure stands for the mean of the root.
            Law::Laminar => (
                root_area(inspiration.mean_pressure()?, inspiration.span()),
                root_area(whole.mean_pressure()?, whole.span()),
            ),
        };
        arith::ratio_q16(i, all)?.within().map(Share::from_bits)
    }

    /// What a window says, where enough pressed gas through the gap.
    fn conductance(&self, window: Window) -> Option<Conductance> {
        let mean = arith::mean_q16(window.drive, window.span.to_us())?;
        if mean.value < self.min_drive.to_bits() {
            return None;
        }
        let ratio = arith::ratio_q16(window.flow, window.drive)?;
        ratio.within().map(Conductance::from_bits)
    }
}

impl LeakPathState {
    /// The learned conductance in the law's unit; `None` as long as it cannot be known: too little
    /// pressure, or nothing heard yet. Below zero, no leak can explain the flow: the sensor's zero
    /// has drifted or the gas conditions differ.
    #[must_use]
    pub const fn conductance(&self) -> Option<Conductance> {
        self.conductance
    }

    /// Whether no breath has taught anything yet.
    #[must_use]
    pub fn is_guessing(&self) -> bool {
        self.previous.span.is_zero()
    }

    fn flow_at_drive(&self, drive: Drive) -> Limited<Flow> {
        match self.conductance {
            None => Limited::exact(Flow::ZERO),
            Some(k) => arith::mul_q16(k.to_bits(), drive.to_bits()).map(Flow::from_bits),
        }
    }

    /// The leak over the window as a share of the inspired volume; `None` before the first breath
    /// or without a conductance. One wide divide.
    #[must_use]
    pub fn window_share(&self) -> Option<Share> {
        self.conductance?;
        if self.is_guessing() {
            return None;
        }
        arith::ratio_q16(self.window.flow, self.inspired)?.within().map(Share::from_bits)
    }

    /// Mean flow and drive over the window; `None` before the first breath. Two wide divides.
    #[must_use]
    pub(super) fn means(&self) -> Option<(Flow, Drive)> {
        let span = self.window.span.to_us();
        let flow = arith::mean_q16(self.window.flow, span)?.within()?;
        let drive = arith::mean_q16(self.window.drive, span)?.within()?;
        Some((Flow::from_bits(flow), Drive::from_bits(drive)))
    }

    /// Whether the last breath missed the model by more than a quarter of its inspired volume.
    #[must_use]
    pub const fn is_misfit(&self) -> bool {
        self.misfit != 0
    }

    /// Mean distance of a breath's net volume from the model. One wide divide.
    #[must_use]
    pub const fn scatter(&self) -> Volume {
        Volume::from_bits(arith::area_to_q16(self.scatter).value)
    }

    /// Whether a breath misses the model as the one before did.
    fn has_stepped(&self, whole: Window, inspired: i64) -> bool {
        let misfit = misfit(self.miss_of(whole), inspired);
        misfit != 0 && misfit == self.misfit
    }

    /// The breath's net flow less the modelled leak.
    fn miss_of(&self, whole: Window) -> i64 {
        let Some(k) = self.conductance else { return 0 };
        whole.flow.saturating_sub(arith::mul_wide(whole.drive, k.to_bits()).value)
    }
}

/// −1 or 1 where a miss is more than a quarter of the inspired volume.
fn misfit(miss: i64, inspired: i64) -> i8 {
    let quarter = arith::fraction(inspired, 2);
    if miss > quarter {
        1
    } else if miss < 0_i64.saturating_sub(quarter) {
        -1
    } else {
        0
    }
}

fn root_area(mean: Pressure, span: Span) -> i64 {
    let root = mean.root().to_bits();
    arith::trapezoid(root, root, span.to_short_us().value)
}
