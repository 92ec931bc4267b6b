//! Sums over the samples of a breath, from which the equation of motion is fitted.

use super::bend_sums::BendSums;
use crate::breath::Totals;
use crate::quantity::unit::{CmH2O, Ml, MlPerS};
use crate::quantity::{Area, Duration, Flow, Magnitude, Pressure, Volume, arith};
use crate::record;
use crate::signal::Interval;

/// Most samples of one breath: 60 s at 1 kHz.
const MOST_SAMPLES: u32 = 60_000;
/// The longest breath: whatever flows for 2³⁰ µs (18 minutes), its doubled area is below 2⁶³.
const LONGEST: Duration = Duration::from_us(1 << 30);
const MOST_FLOW: Magnitude<MlPerS> = Flow::from_int(3_000).magnitude();
const MOST_PRESSURE: Magnitude<CmH2O> = Pressure::from_int(200).magnitude();
const MOST_VOLUME: Magnitude<Ml> = Volume::from_int(3_000).magnitude();

record! {
    #[const_default]
    /// Sums of lung volume V, flow Q and pressure P and of their products, for
    /// [`Fit`](super::Fit).
    ///
    /// Every sample weighs the same. V is counted from the first sample, exact in 64 bits; where it
    /// starts moves the fitted baseline alone. V and Q enter with 12 fraction bits
    /// and P with 15, rounded half up. Bounds: |Q| ≤ 3 000 mL/s, |V| ≤ 3 000 mL, |P| ≤ 200 cmH2O and
    /// 60 000 samples (60 s at 1 kHz); then the largest sum, of V² or Q², is below 60 000 ×
    /// (3 000 × 2¹²)² = 9.06·10¹⁸ < 2⁶³. A sample beyond a bound is left out and spoils the breath's fit.
    ///
    /// One sample costs seven 64-bit products of 32-bit numbers, one 64-bit product and no divide. To
    /// start a breath, start from [`FitSums::default`], or from [`Fit::begin`](super::Fit::begin), which
    /// adds the sums of a bent curve where the fit asks for one: five more 64-bit products a sample.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct FitSums {
        pub(super) count: u32,
        /// The total of flow into the lung at the first sample.
        begun: Area<MlPerS>,
        pub(super) v: i64,
        pub(super) q: i64,
        pub(super) p: i64,
        pub(super) vv: i64,
        pub(super) vq: i64,
        pub(super) qq: i64,
        pub(super) vp: i64,
        pub(super) qp: i64,
        pub(super) pp: i64,
        /// Time from the first sample; none for points.
        pub(super) span: Duration,
        pub(super) beyond: bool,
        pub(super) flagged: bool,
        pub(super) bend: Option<BendSums>,
    }
}

impl FitSums {
    /// Adds an interval, with the totals at its end: both ends the first time, from where volume is
    /// counted, the later one from then on. An interval with a flag spoils the breath's fit.
    pub fn add(&mut self, interval: &Interval, totals: &Totals) {
        self.add_under(interval, totals, [interval.from.pressure, interval.to.pressure]);
    }

    /// As [`add`](Self::add), under other pressures at its ends: those of [`Delayed`](super::Delayed).
    pub fn add_under(&mut self, interval: &Interval, totals: &Totals, under: [Pressure; 2]) {
        self.flagged |= !interval.flags.is_empty();
        if self.flagged {
            // No fit will ask for these sums.
            return;
        }
        let [from, to] = under;
        if self.count == 0 {
            self.begun = totals.lung_area_before(interval);
            self.put(0, interval.from.lung, from);
            if self.count == 0 {
                return;
            }
        }
        self.span = self.span.saturating_add(interval.span);
        if self.span > LONGEST {
            self.beyond = true;
            return;
        }
        let volume = totals.lung_area().wrapping_sub(self.begun).coarse();
        self.beyond |= volume.saturated;
        self.put(volume.value, interval.to.lung, to);
    }

    /// Adds a point whose volume is measured otherwise. Do not mix with [`add`](Self::add).
    pub fn add_point(&mut self, volume: Volume, flow: Flow, pressure: Pressure) {
        if volume.magnitude() > MOST_VOLUME {
            self.beyond = true;
        } else {
            self.put(volume.coarse(4), flow, pressure);
        }
    }

    /// Marks the breath as one that feeds no fit.
    pub fn spoil(&mut self) {
        self.flagged = true;
    }

    /// Whether it feeds none.
    #[must_use]
    pub const fn is_spoiled(&self) -> bool {
        self.flagged
    }

    /// Nothing is summed.
    pub(super) fn clear(&mut self) {
        let Self { count, begun, v, q, p, vv, vq, qq, vp, qp, pp, span, beyond, flagged, bend } =
            self;
        for sum in [v, q, p, vv, vq, qq, vp, qp, pp] {
            *sum = 0;
        }
        (*count, *begun, *span) = (0, Area::ZERO, Duration::ZERO);
        (*beyond, *flagged, *bend) = (false, false, None);
    }

    /// Samples so far.
    #[must_use]
    pub const fn samples(&self) -> u32 {
        self.count
    }

    fn put(&mut self, v: i32, flow: Flow, pressure: Pressure) {
        if self.count >= MOST_SAMPLES
            || flow.magnitude() > MOST_FLOW
            || pressure.magnitude() > MOST_PRESSURE
        {
            self.beyond = true;
            return;
        }
        let (q, p) = (flow.coarse(4), pressure.coarse(1));
        self.count = self.count.saturating_add(1);
        let put = |sum: &mut i64, more: i64| *sum = arith::add_bounded(*sum, more);
        put(&mut self.v, arith::widen(v));
        put(&mut self.q, arith::widen(q));
        put(&mut self.p, arith::widen(p));
        put(&mut self.vv, arith::product(v, v));
        put(&mut self.vq, arith::product(v, q));
        put(&mut self.qq, arith::product(q, q));
        put(&mut self.vp, arith::product(v, p));
        put(&mut self.qp, arith::product(q, p));
        put(&mut self.pp, arith::product(p, p));
        if let Some(bend) = &mut self.bend {
            bend.put(v, q, p);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::{End, Reading};

    /// Intervals through these flows and pressures, each so long.
    fn through(span: Duration, points: &[(i16, i16)]) -> FitSums {
        let end = |(flow, pressure)| {
            End::from(Reading {
                flow: Flow::from_int(flow),
                pressure: Pressure::from_int(pressure),
            })
        };
        let (mut sums, mut totals) = (FitSums::default(), Totals::default());
        for pair in points.windows(2) {
            let (from, to) = (end(pair[0]), end(pair[1]));
            let interval = Interval { span, from, to, ..Interval::default() };
            totals.add(&interval);
            sums.add(&interval, &totals);
        }
        sums
    }

    #[test]
    fn volume_is_counted_from_the_first_sample() {
        // Arithmetic: 0 to 100 mL/s in 10 ms, then 100 mL/s for 10 ms: V is 0, 0.5 and 1.5 mL, in Q12
        // 0 + 2 048 + 6 144, each up to one step low.
        let sums = through(Duration::from_millis(10), &[(0, 0), (100, 0), (100, 0)]);
        assert!((sums.v - 8_192).abs() <= 2, "{}", sums.v);
        assert_eq!(sums.samples(), 3);
        assert_eq!(sums.span, Duration::from_millis(20));
    }

    #[test]
    fn the_largest_allowed_samples_fit() {
        let mut sums = FitSums::default();
        for _ in 0..MOST_SAMPLES {
            sums.add_point(
                Volume::from_int(3_000),
                Flow::from_int(-3_000),
                Pressure::from_int(200),
            );
        }
        assert!(!sums.beyond);
        assert_eq!(sums.vv, 60_000 * (3_000 << 12) * (3_000 << 12));
        sums.add_point(Volume::ZERO, Flow::ZERO, Pressure::ZERO);
        assert!(sums.beyond);
    }

    #[test]
    fn what_lies_beyond_spoils() {
        for (v, q, p) in [(3_001, 0, 0), (0, -3_001, 0), (0, 0, 201)] {
            let mut sums = FitSums::default();
            sums.add_point(Volume::from_int(v), Flow::from_int(q), Pressure::from_int(p));
            assert!(sums.beyond && sums.samples() == 0);
        }
        // 3 000 mL/s for 1.001 s are more than 3 000 mL.
        assert!(through(Duration::from_millis(1_001), &[(3_000, 0), (3_000, 0)]).beyond);
    }
}
