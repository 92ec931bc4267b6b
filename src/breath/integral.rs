//! Exact integrals over part of a breath.

use crate::quantity::{Drive, Flow, Limited, Pressure, Span, Volume, arith};
use crate::record;
use crate::signal::Step;

record! {
    /// What the leak model adds to a reading.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct Corrected {
        /// Flow at the airway opening less the modelled leak: the flow into the lung.
        pub flow: Flow,
        /// What drives the leak, in the leak law's own unit (√cmH2O for an orifice).
        pub drive: Drive,
    }
}

record! {
    /// Time, flow, pressure and leak drive summed by the trapezoidal rule over measured intervals.
    ///
    /// Sums are exact in 64 bits (steps of 1/131 072 mL/s × 1 µs); only reading one rounds. A stretch
    /// is summed for 2³⁰ µs (some 18 minutes) at most: that fits whatever flows. What comes after is not
    /// summed, and the sums say that they have reached their end.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct Sums {
        flow: i64,
        pressure: i64,
        drive: i64,
        /// Time that passed, and the part of it over which readings are known.
        span: Span,
        known: Span,
        saturated: bool,
    }
}

/// The longest stretch that is summed: |a + b| ≤ 2³² over 2³⁰ µs is below 2⁶³.
const LONGEST: Span = Span::from_us(1 << 30);

record! {
    /// One interval with all that is summed over it.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(crate) struct Slice {
        pub(crate) span_us: u32,
        /// The interval is longer than can be summed.
        pub(crate) cut: bool,
        pub(crate) flow: (i32, i32),
        pub(crate) pressure: (i32, i32),
        pub(crate) drive: (i32, i32),
    }
}

impl Slice {
    pub(crate) fn of(step: &Step, from: Corrected, to: Corrected) -> Self {
        let span = step.span.to_short_us();
        Self {
            span_us: span.value,
            cut: span.saturated,
            flow: (step.from.flow.to_bits(), step.to.flow.to_bits()),
            pressure: (step.from.pressure.to_bits(), step.to.pressure.to_bits()),
            drive: (from.drive.to_bits(), to.drive.to_bits()),
        }
    }

    /// The parts before and after a point `share_q16` of the way, values on straight lines.
    pub(crate) fn split(self, share_q16: i32) -> (Self, Self) {
        let before_us = arith::portion_u32(self.span_us, share_q16);
        let at = |(a, b): (i32, i32)| arith::between(a, b, share_q16);
        let (flow, pressure, drive) = (at(self.flow), at(self.pressure), at(self.drive));
        (
            Self {
                span_us: before_us,
                cut: self.cut,
                flow: (self.flow.0, flow),
                pressure: (self.pressure.0, pressure),
                drive: (self.drive.0, drive),
            },
            Self {
                span_us: self.span_us.saturating_sub(before_us),
                cut: self.cut,
                flow: (flow, self.flow.1),
                pressure: (pressure, self.pressure.1),
                drive: (drive, self.drive.1),
            },
        )
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

    pub(crate) fn add(&mut self, slice: &Slice) {
        let span = Span::from_us(arith::widen_u32(slice.span_us));
        self.span = self.span.saturating_add(span);
        let known = self.known.saturating_add(span);
        if slice.cut || known > LONGEST {
            self.saturated = true;
            return;
        }
        self.known = known;
        let put = |sum: &mut i64, (a, b): (i32, i32)| {
            *sum = arith::add_bounded(*sum, arith::trapezoid(a, b, slice.span_us));
        };
        put(&mut self.flow, slice.flow);
        put(&mut self.pressure, slice.pressure);
        put(&mut self.drive, slice.drive);
    }

    /// Lets time pass over which nothing is known.
    pub(crate) fn wait(&mut self, span: Span) {
        self.span = self.span.saturating_add(span);
    }

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

    /// Adds one interval by itself: for users who integrate without the segmenter.
    pub fn add_step(&mut self, step: &Step, from: Corrected, to: Corrected) {
        self.add(&Slice::of(step, from, to));
    }

    /// Net volume: flow over time, positive into the patient. Rounded half away from zero; one
    /// wide divide.
    pub const fn volume(&self) -> Limited<Volume> {
        let r = arith::area_to_q16(self.flow);
        Limited { value: Volume::from_bits(r.value), saturated: r.saturated || self.saturated }
    }

    /// Mean pressure over the time that readings are known for; `None` where there is none. One wide
    /// divide.
    #[must_use]
    pub const fn mean_pressure(&self) -> Option<Pressure> {
        match arith::mean_q16(self.pressure, self.known.to_us()) {
            Some(r) => Some(Pressure::from_bits(r.value)),
            None => None,
        }
    }

    /// Mean leak drive over the time that readings are known for; `None` where there is none. One
    /// wide divide.
    #[must_use]
    pub const fn mean_drive(&self) -> Option<Drive> {
        match arith::mean_q16(self.drive, self.known.to_us()) {
            Some(r) => Some(Drive::from_bits(r.value)),
            None => None,
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_split_interval_sums_to_the_whole() {
        let slice = Slice {
            span_us: 10_000,
            cut: false,
            flow: (-20 << 16, 50 << 16),
            pressure: (5 << 16, 9 << 16),
            drive: (2 << 16, 3 << 16),
        };
        // The line crosses zero at 20/70 of the way.
        let (before, after) = slice.split(18_724);
        assert!(before.flow.1.abs() < 80, "{before:?}"); // within 70 × 1/65 536 × 65 536 / 65 536
        let (mut whole, mut parts) = (Sums::ZERO, Sums::ZERO);
        whole.add(&slice);
        parts.add(&before);
        parts.add(&after);
        // mean 15 mL/s over 10 ms = 0.15 mL
        assert_eq!(whole.volume().value.to_bits(), 9_830); // 0.15 × 65 536 = 9 830.4
        assert!((parts.volume().value.to_bits() - 9_830).abs() <= 1);
        assert_eq!(parts.span(), whole.span());
        assert_eq!(whole.mean_pressure(), Some(Pressure::from_int(7)));
    }

    #[test]
    fn a_sum_at_its_end_says_so() {
        // 2³¹ × 2 × 2³⁰ µs is 2⁶² nearly: as long as a stretch may be, and no longer.
        let slice = Slice {
            span_us: 1 << 30,
            cut: false,
            flow: (i32::MAX, i32::MAX),
            pressure: (0, 0),
            drive: (0, 0),
        };
        let mut sums = Sums::ZERO;
        sums.add(&slice);
        assert!(sums.volume().saturated); // 32 768 mL/s for 18 minutes is more than 32 768 mL
        assert!(!sums.is_saturated());
        assert_eq!(sums.flow_area(), i64::from(i32::MAX) << 31);
        sums.add(&Slice { span_us: 1, ..slice });
        assert!(sums.is_saturated());
        // The time counts on; what is summed and the mean of it stay.
        assert_eq!(sums.span(), Span::from_us((1 << 30) + 1));
        assert_eq!(sums.flow_area(), i64::from(i32::MAX) << 31);
        assert_eq!(sums.mean_pressure(), Some(Pressure::ZERO));
    }

    #[test]
    fn an_interval_too_long_to_sum_says_so() {
        let reading = crate::signal::Reading { flow: Flow::from_int(1), pressure: Pressure::ZERO };
        let span = Span::from_us(1 << 31);
        let at = crate::quantity::Moment::default().after(span);
        let flags = crate::signal::Flags::NONE;
        let step = Step { at, span, from: reading, to: reading, flags };
        let mut sums = Sums::ZERO;
        sums.add_step(&step, Corrected::default(), Corrected::default());
        assert!(sums.is_saturated() && sums.volume().saturated);
    }

    #[test]
    fn time_without_readings_does_not_dilute_the_mean() {
        let slice = Slice {
            span_us: 10_000,
            cut: false,
            flow: (0, 0),
            pressure: (10 << 16, 10 << 16),
            drive: (0, 0),
        };
        let mut sums = Sums::ZERO;
        sums.add(&slice);
        sums.wait(Span::from_millis(700));
        assert_eq!(sums.mean_pressure(), Some(Pressure::from_int(10)));
        assert_eq!(sums.span(), Span::from_millis(710));
    }
}
