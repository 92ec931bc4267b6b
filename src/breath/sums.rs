//! Exact integrals over a stretch of time.

use crate::quantity::{Drive, Limited, Pressure, Span, Volume, arith};
use crate::record;

record! {
    /// Time, flow, pressure and leak drive over a stretch, by the trapezoidal rule over measured
    /// intervals: the difference of two [`Totals`](super::Totals).
    ///
    /// Sums are exact in 64 bits (steps of 1/131 072 mL/s × 1 µs); only reading one rounds. A stretch
    /// of more than 2³⁰ µs of known readings (some 18 minutes) cannot be summed: its volume is marked
    /// as saturated, and it has no means.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct Sums {
        pub(super) flow: i64,
        pub(super) pressure: i64,
        pub(super) drive: i64,
        /// Time that passed, and the part of it over which readings are known.
        pub(super) span: Span,
        pub(super) known: Span,
        pub(super) saturated: bool,
    }
}

impl Sums {
    /// Nothing summed yet.
    pub const ZERO: Self = Self {
        flow: 0,
        pressure: 0,
        drive: 0,
        span: Span::ZERO,
        known: Span::ZERO,
        saturated: false,
    };

    /// Both stretches together.
    #[must_use]
    pub const fn with(self, other: &Self) -> Self {
        let flow = arith::accumulate(self.flow, other.flow);
        let pressure = arith::accumulate(self.pressure, other.pressure);
        let drive = arith::accumulate(self.drive, other.drive);
        Self {
            flow: flow.value,
            pressure: pressure.value,
            drive: drive.value,
            span: self.span.saturating_add(other.span),
            known: self.known.saturating_add(other.known),
            saturated: self.saturated
                || other.saturated
                || flow.saturated
                || pressure.saturated
                || drive.saturated,
        }
    }

    /// Net volume: flow over time, positive into the patient. Rounded half away from zero; one
    /// wide divide.
    pub const fn volume(&self) -> Limited<Volume> {
        let r = arith::area_to_q16(self.flow);
        Limited { value: Volume::from_bits(r.value), saturated: r.saturated || self.saturated }
    }

    /// Mean pressure over the time that readings are known for; `None` where there is none, or the
    /// sums are saturated. One wide divide.
    #[must_use]
    pub const fn mean_pressure(&self) -> Option<Pressure> {
        match self.mean(self.pressure) {
            Some(bits) => Some(Pressure::from_bits(bits)),
            None => None,
        }
    }

    /// Mean leak drive over the time that readings are known for; `None` where there is none, or
    /// the sums are saturated. One wide divide.
    #[must_use]
    pub const fn mean_drive(&self) -> Option<Drive> {
        match self.mean(self.drive) {
            Some(bits) => Some(Drive::from_bits(bits)),
            None => None,
        }
    }

    const fn mean(&self, area: i64) -> Option<i32> {
        match arith::mean_q16(area, self.known.to_us()) {
            Some(mean) if !self.saturated => Some(mean.value),
            _ => None,
        }
    }

    /// The time that passed, gaps included.
    #[must_use]
    pub const fn span(&self) -> Span {
        self.span
    }

    /// Whether a sum reached the end of its range.
    #[must_use]
    pub const fn is_saturated(&self) -> bool {
        self.saturated
    }

    /// The exact doubled flow area, for ratios of sums.
    pub(crate) const fn flow_area(&self) -> i64 {
        self.flow
    }

    /// The exact doubled pressure area, for ratios of sums.
    pub(crate) const fn pressure_area(&self) -> i64 {
        self.pressure
    }

    /// The exact doubled drive area, for ratios of sums.
    pub(crate) const fn drive_area(&self) -> i64 {
        self.drive
    }
}
