//! Exact integrals over a stretch of time.

use crate::quantity::unit::{CmH2O, MlPerS, Unit};
use crate::quantity::{Area, Duration, Flow, Pressure, Quantity, Saturated, Volume};
use crate::record;

record! {
    #[const_default]
    /// Time, flow, pressure at the airway and at the tip of the tube over a stretch, by the trapezoidal
    /// rule over measured intervals: the difference of two running totals.
    ///
    /// Sums are exact in 64 bits (steps of 1/131 072 mL/s × 1 µs); only reading one rounds. A stretch
    /// of more than 2³⁰ µs of known readings (some 18 minutes) cannot be summed: its volume is marked
    /// as saturated, and it has no means.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub struct PhaseIntegrals {
        pub(super) flow: Area<MlPerS>,
        pub(super) pressure: Area<CmH2O>,
        pub(super) tip: Area<CmH2O>,
        /// Time that passed, and the part of it over which readings are known.
        pub(super) span: Duration,
        pub(super) known: Duration,
        pub(super) saturated: bool,
    }
}

impl PhaseIntegrals {
    /// Nothing summed yet.
    pub(crate) const ZERO: Self = Self {
        flow: Area::ZERO,
        pressure: Area::ZERO,
        tip: Area::ZERO,
        span: Duration::ZERO,
        known: Duration::ZERO,
        saturated: false,
    };

    /// Both stretches together.
    #[must_use]
    pub const fn with(self, other: &Self) -> Self {
        let flow = self.flow.plus(other.flow);
        let pressure = self.pressure.plus(other.pressure);
        let tip = self.tip.plus(other.tip);
        Self {
            flow: flow.value,
            pressure: pressure.value,
            tip: tip.value,
            span: self.span.saturating_add(other.span),
            known: self.known.saturating_add(other.known),
            saturated: self.saturated
                || other.saturated
                || flow.saturated
                || pressure.saturated
                || tip.saturated,
        }
    }

    /// Net volume: flow over time, positive into the patient. Rounded half away from zero; one
    /// wide divide.
    pub const fn volume(&self) -> Saturated<Volume> {
        let volume = self.flow.in_seconds();
        Saturated { value: volume.value, saturated: volume.saturated || self.saturated }
    }

    /// Mean pressure over the time that readings are known for; `None` where there is none, or the
    /// sums are saturated. One wide divide.
    #[must_use]
    pub const fn mean_pressure(&self) -> Option<Pressure> {
        self.mean(self.pressure)
    }

    /// Mean pressure at the tip of the tube, as [`mean_pressure`](Self::mean_pressure). One wide divide.
    pub(crate) const fn mean_tip(&self) -> Option<Pressure> {
        self.mean(self.tip)
    }

    /// Mean flow, positive into the patient, as [`mean_pressure`](Self::mean_pressure). One wide divide.
    #[must_use]
    pub(crate) const fn mean_flow(&self) -> Option<Flow> {
        self.mean(self.flow)
    }

    const fn mean<U: Unit>(&self, area: Area<U>) -> Option<Quantity<U>> {
        match area.mean(self.known.to_us()) {
            Some(mean) if !self.saturated => Some(mean.value),
            _ => None,
        }
    }

    /// The time that passed, gaps included.
    #[must_use]
    pub const fn span(&self) -> Duration {
        self.span
    }

    /// The part of that time over which readings are known.
    #[must_use]
    pub const fn known(&self) -> Duration {
        self.known
    }

    /// Whether a sum reached the end of its range.
    pub(crate) const fn is_saturated(&self) -> bool {
        self.saturated
    }

    /// The exact doubled flow area, for ratios of sums.
    pub(crate) const fn flow_area(&self) -> Area<MlPerS> {
        self.flow
    }

    /// The exact doubled area of the pressure at the tip, for ratios of sums.
    pub(crate) const fn tip_area(&self) -> Area<CmH2O> {
        self.tip
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Duration, Flow, Pressure};
    use crate::signal::{End, Interval};

    #[test]
    fn sums_say_which_end_was_reached() {
        let full = |flow, pressure, tip| {
            let end = End { flow, lung: flow, pressure, tip };
            let span = Duration::from_us(1 << 30);
            PhaseIntegrals::of(&Interval { span, from: end, to: end, ..Interval::default() })
        };
        // Twice the largest value over 2³⁰ µs is 2⁶²: the third such stretch does not fit.
        let ends = [
            full(Flow::MAX, Pressure::ZERO, Pressure::ZERO),
            full(Flow::ZERO, Pressure::MAX, Pressure::ZERO),
            full(Flow::ZERO, Pressure::ZERO, Pressure::MAX),
        ];
        for sums in ends {
            let two = sums.with(&sums);
            assert!(!two.is_saturated());
            assert!(two.with(&sums).is_saturated());
            // Either part's own end is the whole's.
            let over = two.with(&sums);
            assert!(
                over.with(&PhaseIntegrals::default()).is_saturated()
                    && PhaseIntegrals::default().with(&over).is_saturated()
            );
        }
        assert_eq!(ends[2].mean_tip(), Some(Pressure::MAX));
        assert_eq!(ends[1].mean_pressure(), Some(Pressure::MAX));
        // 32 768 mL/s for 18 minutes: no volume holds that, and it is said of both ways.
        assert!(ends[0].volume().saturated);
    }

    #[test]
    fn two_stretches_together_are_as_long_and_move_as_much_as_both() {
        let sums = |flow, millis| {
            let end = End {
                flow: Flow::from_int(flow),
                pressure: Pressure::from_int(5),
                ..End::default()
            };
            let span = Duration::from_millis(millis);
            PhaseIntegrals::of(&Interval { span, from: end, to: end, ..Interval::default() })
        };
        // 50 mL/s for 20 ms and -20 mL/s for 30 ms: 1.0 - 0.6 mL over 50 ms, at 5 cmH2O throughout.
        let both = sums(50, 20).with(&sums(-20, 30));
        assert_eq!(both.span(), Duration::from_millis(50));
        assert_eq!(both.known(), Duration::from_millis(50));
        assert_eq!(both.volume(), Volume::from_milli(400));
        assert_eq!(both.mean_pressure(), Some(Pressure::from_int(5)));
    }
}
