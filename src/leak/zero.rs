//! Tells a leak from a sensor whose zero has drifted.
//!
//! A leak needs pressure, an offset does not. Two places show both: the quiet end of expiration,
//! q = k·f(P at baseline) + offset, and the mean over whole breaths, Q = k·mean f(P) + offset.

use super::{LeakPath, LeakPathState};
use crate::breath::Breath;
use crate::quantity::{Drive, Flow, Limited, SettingError, Span, arith};
use crate::record;
use crate::signal::Flags;
use core::fmt;

/// How far an offset may go before it is called drift.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ZeroWatch {
    limit: Flow,
}

impl Default for ZeroWatch {
    /// 1 mL/s (0.06 L/min).
    fn default() -> Self {
        Self { limit: Flow::from_int(1) }
    }
}

record! {
    /// The quiet flow over recent breaths, and the verdict.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct ZeroState {
        quiet: Option<(Flow, Drive)>,
        offset: Option<Flow>,
        /// Quiet flow that the learned leak leaves over.
        residual: Flow,
        breaths: u8,
        fit: LeakFit,
    }
}

record! {
    /// Whether the learned leak explains the flow.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub enum LeakFit {
        /// Too few breaths with a quiet end, or pressures too alike to tell.
        #[default]
        Unknown = 0,
        /// The leak law explains both the quiet flow and the whole.
        Good = 1,
        /// Flow where no pressure drives it: the sensor's zero stands this far off. Above zero it fakes
        /// a leak, below zero it hides one.
        Drift(Flow) = 2,
        /// The flow grows faster with pressure than the law: the leak opens only above the baseline,
        /// follows another law, or the zero stands this far below. Flow alone cannot tell which.
        Steeper(Flow) = 3,
    }
}

/// Breaths with a quiet end before a verdict.
const LEAST_BREATHS: u8 = 8;
/// A shorter quiet may still be the tail of the expiration.
const LONG_ENOUGH: Span = Span::from_millis(150);
/// The mean drive must stand this far above the baseline's for the two to be told apart.
const LEAST_SWING: Drive = Drive::from_milli(150).value;

impl ZeroWatch {
    /// A watch for offsets beyond `limit` (0.1 to 100 mL/s).
    ///
    /// # Errors
    /// `limit` outside its range.
    pub fn new(limit: Flow) -> Result<Self, SettingError> {
        SettingError::within(
            "zero_limit",
            limit,
            Flow::from_milli(100).value,
            Flow::from_int(100),
        )?;
        Ok(Self { limit })
    }

    /// Learns from a closed breath, after the leak path did; one whose measurement was flagged changes
    /// nothing. Three wide divides.
    pub fn learn(
        &self,
        state: &mut ZeroState,
        path: &LeakPath,
        learned: &LeakPathState,
        breath: &Breath,
    ) {
        if !breath.is_measured() {
            return;
        }
        let Some((mean_flow, mean_drive)) = learned.means() else { return };
        if let Some(quiet) = breath.quiet.filter(|quiet| quiet.span >= LONG_ENOUGH) {
            let drive = path.law().drive(quiet.pressure);
            state.quiet = Some(match state.quiet {
                None => (quiet.flow, drive),
                Some((flow, before)) => (flow.lowpass(quiet.flow, 3), before.lowpass(drive, 3)),
            });
            state.residual = state.residual.lowpass(quiet.residual, 3);
            state.breaths = state.breaths.saturating_add(1);
        }
        if state.breaths < LEAST_BREATHS {
            return;
        }
        let offset = state.quiet.and_then(|quiet| offset(quiet, mean_flow, mean_drive));
        state.offset = match (state.offset, offset) {
            (Some(was), Some(now)) => Some(was.lowpass(now, 3)),
            (was, now) => now.or(was),
        };
        state.fit = self.fit(state.offset, mean_flow);
    }

    fn fit(&self, offset: Option<Flow>, mean_flow: Flow) -> LeakFit {
        let below = Flow::ZERO.saturating_sub(self.limit).value;
        match offset {
            Some(offset) if offset >= self.limit => LeakFit::Drift(offset),
            // More came out than went in: no leak does that.
            _ if mean_flow <= below => LeakFit::Drift(mean_flow),
            Some(offset) if offset <= below => LeakFit::Steeper(offset),
            Some(_) => LeakFit::Good,
            None => LeakFit::Unknown,
        }
    }
}

impl ZeroState {
    /// [`Flags::ZERO_DRIFT`] where the zero stands off: no volume is to be trusted.
    #[must_use]
    pub const fn judge(&self) -> Flags {
        Flags::when(Flags::ZERO_DRIFT, matches!(self.fit, LeakFit::Drift(_)))
    }

    /// The leak has changed in a step: what the quiet flow was says nothing of what it is.
    pub fn restart(&mut self) {
        *self = Self::default();
    }

    /// The quiet flow that the learned leak leaves over, where that is a drifted zero; else zero.
    #[must_use]
    pub const fn drifted_quiet(&self) -> Flow {
        match self.fit {
            LeakFit::Drift(_) => self.residual,
            LeakFit::Unknown | LeakFit::Good | LeakFit::Steeper(_) => Flow::ZERO,
        }
    }

    /// The verdict so far.
    #[must_use]
    pub const fn fit(&self) -> LeakFit {
        self.fit
    }
}

/// The offset that both places leave; `None` where their drives are too alike.
fn offset(quiet: (Flow, Drive), mean_flow: Flow, mean_drive: Drive) -> Option<Flow> {
    let (flow, drive) = quiet;
    let swing = mean_drive.saturating_sub(drive).value;
    if swing < LEAST_SWING {
        return None;
    }
    let more = mean_flow.saturating_sub(flow).value;
    let slope = arith::ratio_q16(arith::widen(more.to_bits()), arith::widen(swing.to_bits()))?;
    let leak = arith::mul_q16(slope.within()?, drive.to_bits()).map(Flow::from_bits);
    Limited::within(flow.saturating_sub(leak.within()?))
}

impl fmt::Display for LeakFit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unknown => f.write_str("not known whether the leak explains the flow"),
            Self::Good => f.write_str("the leak explains the flow"),
            Self::Drift(offset) if *offset > Flow::ZERO => {
                write!(f, "the flow sensor's zero stands {offset:.1} off: that fakes a leak")
            }
            Self::Drift(offset) => {
                write!(f, "the flow sensor's zero stands {offset:.1} off: that hides a leak")
            }
            Self::Steeper(offset) => write!(
                f,
                "the leak grows faster with pressure than its law: it opens above the baseline, or \
                 the flow sensor's zero stands {offset:.1} off"
            ),
        }
    }
}
