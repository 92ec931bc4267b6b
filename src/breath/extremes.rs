//! Extremes of a stretch of samples.

use super::record::TriggerPhase;
use crate::quantity::unit::MlPerS;
use crate::quantity::{Area, Flow, Instant, Pressure};
use crate::record;
use crate::signal::{End, Flags, Interval};

record! {
    #[const_default]
    /// Largest and smallest readings of a stretch, and when its pressure first rose.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Extremes {
        pub(super) peak: Pressure,
        pub(super) lowest: Pressure,
        pub(super) peak_in: Flow,
        /// Most outward flow, counted inward: never above zero.
        pub(super) most_out: Flow,
        /// Pressure at the start of the stretch.
        pub(super) reference: Pressure,
        /// As `most_out`, of the lung and before the pressure fell from there.
        pub(super) early_out: Flow,
        pub(super) fell: bool,
        /// When the pressure first stood above the reference by the inflation rise.
        pub(super) rise: Option<Instant>,
        /// What came before that rise.
        pub(super) lead: TriggerPhase,
        /// What the model let past the lung at its first reading.
        pub(super) leak: Flow,
        /// The largest running total of flow up to the first reading at which it goes out at the sensor.
        pub(super) top: Area<MlPerS>,
        /// It has gone out.
        pub(super) went_out: bool,
        /// Where the most gas had come out, net, since then; and before.
        pub(super) out: Least,
        before: Least,
        pub(super) flags: Flags,
    }
}

record! {
    #[const_default]
    /// The least of the running total of flow at the sensor, and when it stood there. It wraps: compared
    /// by differences only.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct Least {
        pub(super) flow: Area<MlPerS>,
        pub(super) at: Instant,
    }
}

impl Least {
    pub(super) fn take(&mut self, later: Self) {
        if later.flow.wrapping_sub(self.flow) < Area::ZERO {
            *self = later;
        }
    }
}

/// A pressure that has not risen by this is not the machine's doing yet. Chosen here, no source.
const LIFT: Pressure = Pressure::from_milli(300).value;
const DROP: Pressure = Pressure::from_milli(-300).value;

/// What the model lets past the lung.
pub(super) fn leak_of(end: &End) -> Flow {
    end.flow.saturating_sub(end.lung).value
}

impl Extremes {
    /// As [`begin`](Self::begin), in place: what is built for it stands in no other frame.
    #[inline(never)]
    pub(super) fn restart(&mut self, from: &End, out: Least) {
        *self = Self::begin(from, out);
    }

    /// A stretch that begins at a reading, with the running total of flow at its first later one.
    pub(super) fn begin(from: &End, out: Least) -> Self {
        let pressure = from.pressure;
        let lead = TriggerPhase { peak: from.flow.max(Flow::ZERO), ..TriggerPhase::default() };
        Self {
            peak: pressure,
            lowest: pressure,
            reference: pressure,
            lead,
            leak: leak_of(from),
            top: out.flow,
            out,
            before: out,
            ..Self::default()
        }
    }

    /// The pressure that rises, if it does, rises from this reading on.
    pub(super) fn rise_from(&mut self, from: &End) {
        let Self { reference, lead, rise, .. } = Self::begin(from, self.out);
        (self.reference, self.lead, self.rise) = (reference, lead, rise);
    }

    /// Takes the later end of an interval, and the running total of flow there.
    pub(super) fn take(&mut self, interval: &Interval, out: Least, rise: Pressure) {
        self.count(out.flow, out);
        self.went_out |= interval.to.flow <= Flow::ZERO;
        let (flow, pressure) = (interval.to.flow, interval.to.pressure);
        let up = pressure.saturating_sub(self.reference).value;
        self.fell |= up <= DROP;
        if !self.fell {
            self.early_out = self.early_out.min(interval.to.lung);
        }
        self.peak = self.peak.max(pressure);
        self.lowest = self.lowest.min(pressure);
        self.peak_in = self.peak_in.max(flow);
        self.most_out = self.most_out.min(flow);
        if self.rise.is_none() {
            if up < LIFT {
                self.lead.until = interval.at;
                self.lead.peak = self.lead.peak.max(flow);
            }
            if up >= rise {
                self.rise = Some(interval.at);
            }
        }
        self.flags = self.flags.with(interval.flags);
    }

    /// A running total up to which flow only went in, and the least since.
    fn count(&mut self, top: Area<MlPerS>, out: Least) {
        if !self.went_out && top.wrapping_sub(self.top) > Area::ZERO {
            self.before.take(self.out);
            (self.top, self.out) = (top, out);
        } else {
            self.out.take(out);
        }
    }

    /// Where the most gas had come out at any of its readings.
    pub(super) fn least(&self) -> Least {
        let mut least = self.before;
        least.take(self.out);
        least
    }

    /// This stretch and the outward one after it, whose start is the end of inspiration.
    pub(super) fn turn_outward(&mut self, later: &Self) {
        self.join(later);
        self.lowest = later.lowest;
        self.reference = later.reference;
        self.early_out = later.early_out;
        self.fell = later.fell;
        (self.top, self.went_out) = (later.top, later.went_out);
        (self.out, self.before) = (later.out, later.before);
    }

    /// This stretch and the one after it.
    pub(super) fn join(&mut self, later: &Self) {
        self.peak = self.peak.max(later.peak);
        self.lowest = self.lowest.min(later.lowest);
        self.peak_in = self.peak_in.max(later.peak_in);
        self.most_out = self.most_out.min(later.most_out);
        if self.rise.is_none() {
            self.lead = self.lead.with(later.lead);
            self.rise = later.rise;
        }
        self.count(later.before.flow, later.before);
        self.count(later.top, later.out);
        self.went_out |= later.went_out;
        self.flags = self.flags.with(later.flags);
    }
}

#[cfg(test)]
mod tests {
    use super::super::PhaseIntegrals;
    use super::super::moved::Moved;
    use super::*;
    use crate::quantity::Volume;
    use crate::signal::Reading;

    /// Readings at which gas goes in, by their running totals: 10 ms apart from 10 ms on.
    fn going_in(totals: &[i64]) -> Extremes {
        let flow = Flow::from_int(50);
        let to = End::from(Reading { flow, pressure: Pressure::ZERO });
        let least = |n: usize| Least {
            flow: Area::of_total(totals[n]),
            at: Instant::from_us(n as u64 * 10_000),
        };
        let mut seen = Extremes::begin(&to, least(0));
        for n in 0..totals.len() {
            let interval = Interval { to, ..Interval::default() };
            seen.take(&interval, least(n), Pressure::from_int(2));
        }
        seen
    }

    /// An inflation is what rises by its least rise, no more.
    #[test]
    fn a_rise_of_just_the_least_is_one() {
        // From 5 cmH2O: one step below 7 at 10 ms, 7 at 20 ms, 9 at 30 ms.
        let end = |pressure| End::from(Reading { flow: Flow::ZERO, pressure });
        let (five, seven, nine) =
            (Pressure::from_int(5), Pressure::from_int(7), Pressure::from_int(9));
        let below = seven.saturating_sub(Pressure::STEP).value;
        let mut seen = Extremes::begin(&end(five), Least::default());
        for (us, pressure) in [(10_000, below), (20_000, seven), (30_000, nine)] {
            let at = Instant::from_us(us);
            let interval = Interval { at, to: end(pressure), ..Interval::default() };
            seen.take(&interval, Least::default(), Pressure::from_int(2));
        }
        assert_eq!(seen.rise, Some(Instant::from_us(20_000)));
    }

    /// Gas that came out between two readings at which it goes in is not forgotten as more goes in.
    #[test]
    fn the_most_that_came_out_outlives_a_later_top() {
        let seen = going_in(&[-100, -90, -80]);
        assert_eq!([seen.top, seen.out.flow, seen.least().flow].map(Area::total), [-80, -80, -100]);
        let mut joined = going_in(&[-110, -60]);
        joined.join(&seen);
        assert_eq!(
            [joined.top, joined.out.flow, joined.least().flow].map(Area::total),
            [-60, -100, -110]
        );
        // Behind a lower top all of the later stretch comes after it: -130, then up to -70.
        let mut joined = going_in(&[-60]);
        joined.join(&going_in(&[-130, -70]));
        assert_eq!(
            [joined.top, joined.out.flow, joined.least().flow].map(Area::total),
            [-60, -130, -130]
        );
    }

    /// Until the pressure has risen by 0.3 cmH2O what flows is the infant's.
    #[test]
    fn the_lead_lasts_until_the_pressure_has_lifted() {
        let end = |pressure, flow| End::from(Reading { flow: Flow::from_int(flow), pressure });
        let mut seen = Extremes::begin(&end(Pressure::ZERO, 1), Least::default());
        let below = LIFT.saturating_sub(Pressure::STEP).value;
        for (us, pressure, flow) in [(10_000, below, 4), (20_000, LIFT, 9)] {
            let at = Instant::from_us(us);
            let interval = Interval { at, to: end(pressure, flow), ..Interval::default() };
            seen.take(&interval, Least::default(), Pressure::from_int(2));
        }
        let lead = (seen.lead.until, seen.lead.peak);
        assert_eq!(lead, (Instant::from_us(10_000), Flow::from_int(4)));
    }

    /// A total that comes up to the top again is no new one: what came out between is since the same top.
    #[test]
    fn a_top_met_again_is_the_same_top() {
        let seen = going_in(&[-80, -100, -80]);
        assert_eq!([seen.top, seen.out.flow, seen.before.flow].map(Area::total), [-80, -100, -80]);
    }

    /// Volumes of 10 mL that went in, from 0 to 0.4 s, of a breath that ends at 1 s, whose last phase began at a total
    /// of zero: in mL, and when the most was out.
    fn moved(returned: i16, seen: &Extremes) -> ([i32; 3], Instant) {
        let sums =
            |milli: i32, ms: i32| PhaseIntegrals::steady(milli * 1_000 / ms, 5, ms.cast_unsigned());
        let phases = (sums(10_000, 400), sums(-i32::from(returned) * 1_000, 600));
        let at = |ms: u64| Instant::from_us(ms * 1_000);
        let moved = Moved::of((&phases.0, &phases.1), Area::ZERO, Some(seen), (at(400), at(1_000)));
        let whole = |volume: Volume| volume.to_f64().round() as i32;
        let volumes = [moved.inspired.value, moved.expired.value, moved.most_out.value];
        (volumes.map(whole), moved.out_until)
    }

    /// What more went in after the turn is counted from its top; what came out, from there down.
    #[test]
    fn what_a_breath_moved_is_counted_from_its_top() {
        let area = |ml: i16| Area::of_seconds(Volume::from_int(ml));
        let least = |ml, ms: u64| Least { flow: area(ml), at: Instant::from_us(ms * 1_000) };
        // It went out at once; 9 mL below the turn at 0.9 s, 8 at the end. An earlier least of none is left.
        let mut seen =
            Extremes { out: least(-9, 900), before: least(0, 400), ..Extremes::default() };
        assert_eq!(moved(8, &seen), ([10, 8, 9], Instant::from_us(900_000)));
        // 7 mL below it came before a later crest that was no top: that least counts.
        (seen.out, seen.before) = (least(-6, 900), least(-7, 700));
        assert_eq!(moved(8, &seen), ([10, 8, 8], Instant::from_us(700_000)));
        // 2 mL more went in: 12 in; from there down to -9 are 11, and back came 8 + 2. What came before the top
        // is none of it.
        seen = Extremes { top: area(2), out: least(-9, 900), before: least(-20, 450), ..seen };
        assert_eq!(moved(8, &seen), ([12, 10, 11], Instant::from_us(900_000)));
        // Nothing is below the turn: out until the end of inspiration.
        seen = Extremes { out: least(0, 900), before: least(0, 400), ..Extremes::default() };
        assert_eq!(moved(0, &seen), ([10, 0, 0], Instant::from_us(400_000)));
    }

    /// A rest of more than 2 s at the end is a pause, which takes nothing back: all that came out counts.
    #[test]
    fn what_leaks_in_over_a_pause_is_not_given_back() {
        let area = |ml: i16| Area::of_seconds(Volume::from_int(ml));
        let phases =
            (PhaseIntegrals::steady(25_000, 5, 400), PhaseIntegrals::steady(-2_000, 5, 3_000));
        let expired = |us| {
            let out = Least { flow: area(-9), at: Instant::from_us(us) };
            let seen = Extremes { out, ..Extremes::default() };
            let at = |ms: u64| Instant::from_us(ms * 1_000);
            let moved =
                Moved::of((&phases.0, &phases.1), Area::ZERO, Some(&seen), (at(400), at(3_400)));
            moved.expired.value.to_f64().round() as i32
        };
        // 2 mL/s over 3 s are 6 mL back, of 9 that came out: just 2 s before the end, and 1 us sooner.
        assert_eq!((expired(1_400_000), expired(1_399_999)), (6, 9));
    }
}
