//! Running totals that never start afresh.

use super::PhaseIntegrals;
use crate::quantity::unit::{CmH2O, MlPerS};
use crate::quantity::{Area, Duration};
use crate::record;
use crate::signal::Interval;
#[cfg(test)]
use crate::{
    quantity::{Flow, Pressure},
    signal::End,
};

record! {
    #[const_default]
    /// Time, flow at the sensor and into the lung, pressure at the airway and at the tip of the tube since
    /// the beginning.
    ///
    /// A phase, a breath or any other stretch is the difference of two totals. The sums wrap, which
    /// such a difference undoes: it is exact as long as it covers no more than 2³⁰ µs (some 18
    /// minutes) of known readings, whatever flows.
    ///
    /// ```
    /// use tidevane::breath::Totals;
    /// use tidevane::quantity::{Flow, Pressure, Duration, Volume};
    /// use tidevane::signal::{Interval, Reading};
    ///
    /// let reading = Reading { flow: Flow::from_int(50), pressure: Pressure::from_int(5) };
    /// let (from, to) = (reading.into(), reading.into());
    /// let interval = Interval { span: Duration::from_millis(10), from, to, ..Interval::default() };
    /// let (mut totals, begun) = (Totals::default(), Totals::default());
    /// totals.add(&interval);
    /// totals.add(&interval);
    /// // 50 mL/s for 20 ms
    /// assert_eq!(totals.since(&begun).volume().value, Volume::from_int(1));
    /// ```
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct Totals {
        flow: Area<MlPerS>,
        lung: Area<MlPerS>,
        pressure: Area<CmH2O>,
        tip: Area<CmH2O>,
        /// Time that passed, and the part of it over which readings are known.
        span: Duration,
        known: Duration,
        /// Intervals too long to sum.
        uncounted: u32,
    }
}

/// The longest stretch that can be told: |a + b| ≤ 2³² over 2³⁰ µs is below 2⁶³.
const LONGEST: Duration = Duration::from_us(1 << 30);

impl Totals {
    /// Joins the areas of an interval of so many µs: flows, and pressures.
    #[inline(always)]
    fn put(
        &mut self,
        interval: &Interval,
        us: u32,
        flow: impl Fn(Area<MlPerS>, Area<MlPerS>) -> Area<MlPerS>,
        pressure: impl Fn(Area<CmH2O>, Area<CmH2O>) -> Area<CmH2O>,
    ) {
        let (a, b) = (&interval.from, &interval.to);
        self.flow = flow(self.flow, a.flow.ramp(b.flow, us));
        self.lung = flow(self.lung, a.lung.ramp(b.lung, us));
        self.pressure = pressure(self.pressure, a.pressure.ramp(b.pressure, us));
        self.tip = pressure(self.tip, a.tip.ramp(b.tip, us));
    }

    /// Adds an interval. Four wide multiplies.
    pub fn add(&mut self, interval: &Interval) {
        self.span = self.span.saturating_add(interval.span);
        let us = interval.span.to_short_us();
        if us.saturated {
            self.uncounted = self.uncounted.wrapping_add(1);
            return;
        }
        self.known = self.known.saturating_add(interval.span);
        self.put(interval, us.value, Area::wrapping_add, Area::wrapping_add);
    }

    /// Lets time pass over which nothing is known.
    pub const fn wait(&mut self, span: Duration) {
        self.span = self.span.saturating_add(span);
    }

    /// All that was added since an earlier state of these totals, but for the flow into the lung.
    /// Saturated where a stretch of more than 2³⁰ µs, or an interval too long to sum (above 35.8 minutes),
    /// lies between.
    #[must_use]
    pub fn since(&self, earlier: &Self) -> PhaseIntegrals {
        let known = self.known.saturating_sub(earlier.known);
        let span = self.span.saturating_sub(earlier.span);
        if self.uncounted != earlier.uncounted || known > LONGEST {
            return PhaseIntegrals { span, known, saturated: true, ..PhaseIntegrals::ZERO };
        }
        PhaseIntegrals {
            flow: self.flow.wrapping_sub(earlier.flow),
            pressure: self.pressure.wrapping_sub(earlier.pressure),
            tip: self.tip.wrapping_sub(earlier.tip),
            span,
            known,
            saturated: false,
        }
    }

    /// The area under the flow into the lung, for differences: it wraps.
    pub(crate) const fn lung_area(&self) -> Area<MlPerS> {
        self.lung
    }

    /// That area where an interval began of which they hold the end last.
    pub(crate) fn lung_area_before(&self, interval: &Interval) -> Area<MlPerS> {
        let (from, to, us) =
            (interval.from.lung, interval.to.lung, interval.span.to_short_us().value);
        self.lung.wrapping_sub(from.ramp(to, us))
    }

    /// Takes off a part of an interval that they hold.
    pub(super) fn take_off(&mut self, part: &Interval) {
        self.span = self.span.saturating_sub(part.span);
        let us = part.span.to_short_us();
        if us.saturated {
            self.uncounted = self.uncounted.wrapping_sub(1);
            return;
        }
        self.known = self.known.saturating_sub(part.span);
        self.put(part, us.value, Area::wrapping_sub, Area::wrapping_sub);
    }

    /// The area under the flow at the sensor, for differences: it wraps.
    pub(super) const fn flow(&self) -> Area<MlPerS> {
        self.flow
    }

    /// The time that passed.
    pub(super) const fn span(&self) -> Duration {
        self.span
    }
}

impl PhaseIntegrals {
    /// Over one interval alone.
    #[doc(hidden)]
    #[must_use]
    pub fn of(interval: &Interval) -> Self {
        let (begun, mut totals) = (Totals::default(), Totals::default());
        totals.add(interval);
        totals.since(&begun)
    }

    /// For tests: a flow in thousandths of a mL/s, all of it into the lung, at a pressure in cmH2O.
    #[cfg(test)]
    pub(crate) fn steady(milli_flow: i32, pressure: i16, millis: u32) -> Self {
        let (flow, tip) = (Flow::from_milli(milli_flow).value, Pressure::from_int(pressure));
        let end = End { flow, lung: flow, pressure: tip, tip };
        let span = Duration::from_millis(millis);
        Self::of(&Interval { span, from: end, to: end, ..Interval::default() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    impl Totals {
        fn plus(mut self, part: &Interval) -> Self {
            self.add(part);
            self
        }
    }

    use crate::quantity::{Flow, Pressure, Share, Volume};
    use crate::signal::{End, Reading};

    fn end(flow: i16, pressure: i16) -> End {
        Reading { flow: Flow::from_int(flow), pressure: Pressure::from_int(pressure) }.into()
    }

    fn interval(us: u64, from: End, to: End) -> Interval {
        Interval { span: Duration::from_us(us), from, to, ..Interval::default() }
    }

    fn alone(interval: &Interval) -> PhaseIntegrals {
        Totals::default().plus(interval).since(&Totals::default())
    }

    #[test]
    fn a_split_interval_sums_to_the_whole() {
        let whole = interval(10_000, end(-20, 5), end(50, 9));
        // The line crosses zero at 20/70 of the way.
        let (before, after) = whole.split(Share::of_counts(20, 70).unwrap());
        assert!(before.to.flow.is_within(Flow::milli::<1>()), "{before:?}"); // within 70 × 1/65 536
        let parts = Totals::default().plus(&before).plus(&after).since(&Totals::default());
        // mean 15 mL/s over 10 ms = 0.15 mL
        let sums = alone(&whole);
        assert_eq!(sums.volume(), Volume::from_milli(150));
        assert!(parts.volume().value.apart(sums.volume().value) <= Volume::STEP.magnitude());
        assert_eq!(parts.span(), sums.span());
        assert_eq!(sums.mean_pressure(), Some(Pressure::from_int(7)));
    }

    #[test]
    fn a_stretch_too_long_to_sum_says_so() {
        // 2³¹ × 2 × 2³⁰ µs is 2⁶² nearly: as long as a stretch may be, and no longer.
        let most = End { flow: Flow::MAX, ..End::default() };
        let mut totals = Totals::default().plus(&interval(1 << 30, most, most));
        let sums = totals.since(&Totals::default());
        assert!(sums.volume().saturated); // 32 768 mL/s for 18 minutes is more than 32 768 mL
        assert!(!sums.is_saturated());
        assert_eq!(sums.flow_area().total(), i64::from(i32::MAX) << 31);
        totals.add(&interval(1, most, most));
        let sums = totals.since(&Totals::default());
        assert!(sums.is_saturated() && sums.volume().saturated);
        assert_eq!(sums.span(), Duration::from_us((1 << 30) + 1));
        assert_eq!(sums.mean_pressure(), None);
    }

    #[test]
    fn a_stretch_is_exact_though_the_totals_wrapped_before() {
        // An hour and a half at the largest flow wraps; the 0.15 mL after it are 0.15 mL.
        let most = End { flow: Flow::MAX, ..End::default() };
        let half_hour = interval(1_800_000_000, most, most);
        let totals = Totals::default().plus(&half_hour).plus(&half_hour).plus(&half_hour);
        let last = totals.plus(&interval(10_000, end(-20, 5), end(50, 9))).since(&totals);
        assert_eq!(last.volume(), Volume::from_milli(150));
        assert!(!last.is_saturated());
    }

    #[test]
    fn an_interval_too_long_to_sum_says_so() {
        let sums = alone(&interval(1 << 31, end(1, 0), end(1, 0)));
        assert!(sums.is_saturated() && sums.volume().saturated);
    }

    #[test]
    fn time_without_readings_does_not_dilute_the_mean() {
        let mut totals = Totals::default().plus(&interval(10_000, end(0, 10), end(0, 10)));
        totals.wait(Duration::from_millis(700));
        let sums = totals.since(&Totals::default());
        assert_eq!(sums.mean_pressure(), Some(Pressure::from_int(10)));
        assert_eq!(sums.span(), Duration::from_millis(710));
    }
}
