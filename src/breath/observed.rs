//! Extremes of a stretch of samples.

use crate::quantity::{Flow, Moment, Pressure};
use crate::signal::{Flags, Step};

/// Largest and smallest readings of a stretch, and when its pressure first rose.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct Observed {
    pub(super) peak: Pressure,
    pub(super) lowest: Pressure,
    pub(super) peak_in: Flow,
    pub(super) peak_out: Flow,
    /// Pressure at the start of the stretch.
    pub(super) reference: Pressure,
    /// When the pressure first stood above the reference by the inflation rise.
    pub(super) rise: Option<Moment>,
    pub(super) flags: Flags,
}

impl Observed {
    /// A stretch that begins at a reading's pressure.
    pub(super) fn begin(pressure: Pressure) -> Self {
        Self { peak: pressure, lowest: pressure, reference: pressure, ..Self::default() }
    }

    pub(super) fn take(&mut self, step: &Step, rise: Pressure) {
        let (flow, pressure) = (step.to.flow, step.to.pressure);
        self.peak = self.peak.max(pressure);
        self.lowest = self.lowest.min(pressure);
        self.peak_in = self.peak_in.max(flow);
        self.peak_out = self.peak_out.max(Flow::ZERO.saturating_sub(flow).value);
        if self.rise.is_none() && pressure.saturating_sub(self.reference).value >= rise {
            self.rise = Some(step.at);
        }
        self.flags = self.flags.with(step.flags);
    }

    /// This stretch and the one after it.
    pub(super) fn join(&mut self, later: &Self) {
        self.peak = self.peak.max(later.peak);
        self.lowest = self.lowest.min(later.lowest);
        self.peak_in = self.peak_in.max(later.peak_in);
        self.peak_out = self.peak_out.max(later.peak_out);
        self.rise = self.rise.or(later.rise);
        self.flags = self.flags.with(later.flags);
    }
}
