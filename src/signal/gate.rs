//! Lets good readings in, names the bad ones.

use super::{Flags, Interval, Reading};
use crate::quantity::{Flow, Moment, Pressure, Problem, SettingError, Span, arith};
use crate::record;

/// The gate's settings; see [`GateState`] for what it remembers.
///
/// Cost: compares and additions only; no multiply, no divide.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Gate {
    flow_limit: Flow,
    pressure_limit: Pressure,
    gap: Span,
    cut: Span,
    frozen: Span,
}

/// How many samples in a row at one extreme flow make a clip, together with [`CLIP_SPAN`].
const CLIP_SAMPLES: u8 = 5;
/// How long the flow must sit at one extreme to be called clipped.
const CLIP_SPAN: Span = Span::from_millis(30);
/// Readings of a coarse sensor may stay the same for this long by nature.
const NATURAL: Span = Span::from_millis(1_500);
/// A clip below this would be a clip of noise.
const CLIP_FLOOR: Flow = Flow::from_int(5);
/// After this many refused readings in good order of their own the recording's clock was reset.
const DISORDER_LIMIT: u8 = 8;

impl Default for Gate {
    /// ±5 000 mL/s, ±200 cmH2O, gap 100 ms, cut 1 s, frozen 500 ms.
    fn default() -> Self {
        Self {
            flow_limit: Flow::from_int(5_000),
            pressure_limit: Pressure::from_int(200),
            gap: Span::from_millis(100),
            cut: Span::from_millis(1_000),
            frozen: Span::from_millis(500),
        }
    }
}

impl Gate {
    /// A gate.
    ///
    /// - `flow_limit`, `pressure_limit`: the sensor's range either side of zero; readings beyond
    ///   are refused and flagged.
    /// - `gap`: the longest wait between samples that is still bridged by a straight line
    ///   (5 ms to 1 s).
    /// - `cut`: beyond this wait the open breath is closed and counting starts afresh; at least
    ///   `gap`, at most 30 s.
    /// - `frozen`: how long flow and pressure may stay the same (50 ms to 10 s), or three times as
    ///   long as they have been seen to by nature, at most ten times `frozen`. A frozen flow under
    ///   moving pressure is given twice as long.
    ///
    /// # Errors
    /// Names the first parameter outside its range.
    pub fn new(
        flow_limit: Flow,
        pressure_limit: Pressure,
        gap: Span,
        cut: Span,
        frozen: Span,
    ) -> Result<Self, SettingError> {
        let within = |name, x, low, high| {
            SettingError::within(name, x, Span::from_millis(low), Span::from_millis(high))
        };
        if flow_limit <= Flow::ZERO {
            return Err(SettingError::new("flow_limit", Problem::NotPositive));
        }
        if pressure_limit <= Pressure::ZERO {
            return Err(SettingError::new("pressure_limit", Problem::NotPositive));
        }
        within("gap", gap, 5, 1_000)?;
        within("cut", cut, 5, 30_000)?;
        within("frozen", frozen, 50, 10_000)?;
        if cut < gap {
            return Err(SettingError::new("cut", Problem::Contradiction));
        }
        Ok(Self { flow_limit, pressure_limit, gap, cut, frozen })
    }

    /// The sensor's range either side of zero.
    #[must_use]
    pub const fn flow_limit(&self) -> Flow {
        self.flow_limit
    }

    /// Takes one reading.
    pub fn step(&self, state: &mut GateState, at: Moment, reading: Reading) -> Passed {
        let Some(last) = state.last else {
            return match self.range(reading) {
                Some(refusal) => Passed::Refused(refusal),
                None => state.start(at, reading),
            };
        };
        if let Some(refusal) = self.range(reading) {
            state.pending = state.pending.with(Flags::OUT_OF_RANGE);
            return Passed::Refused(refusal);
        }
        if at <= last.at {
            return state.disorder(at, reading);
        }
        let span = at.since(last.at);
        if span > self.cut {
            let flags = state.pending.with(Flags::GAP);
            *state = GateState::default();
            let _ = state.start(at, reading);
            return Passed::Cut { since: last.at, flags };
        }
        let flags = state
            .pending
            .with(Flags::when(Flags::GAP, span > self.gap))
            .with(state.watch(at, reading, self));
        state.pending = Flags::NONE;
        state.disordered = 0;
        state.last = Some(Last { at, reading });
        Passed::Step(Interval { at, span, from: last.reading.into(), to: reading.into(), flags })
    }

    /// A sample is known to be lost or unreadable: the interval to the next good one is a gap,
    /// however short.
    pub fn lost(&self, state: &mut GateState) {
        if state.last.is_some() {
            state.pending = state.pending.with(Flags::GAP);
        }
    }

    fn range(&self, reading: Reading) -> Option<Refusal> {
        if arith::is_within_span(reading.flow.to_bits(), self.flow_limit.to_bits()) {
            if arith::is_within_span(reading.pressure.to_bits(), self.pressure_limit.to_bits()) {
                None
            } else {
                Some(Refusal::PressureOutOfRange)
            }
        } else {
            Some(Refusal::FlowOutOfRange)
        }
    }
}

/// What the gate made of a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[must_use]
pub enum Passed {
    /// The first reading: nothing lies before it.
    Start,
    /// The interval since the reading before, of which no leak is known yet.
    Step(Interval),
    /// Nothing was heard for so long that counting starts afresh with this reading.
    Cut {
        /// The last reading before the silence.
        since: Moment,
        /// Why.
        flags: Flags,
    },
    /// The reading was not taken.
    Refused(Refusal),
}

record! {
    /// Why a reading was not taken.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    #[non_exhaustive]
    pub enum Refusal {
        /// Flow beyond the sensor's range.
        FlowOutOfRange = 0,
        /// Pressure beyond the sensor's range.
        PressureOutOfRange = 1,
        /// Not later than the reading before.
        NotLater = 2,
    }
}

record! {
    /// What the gate remembers between readings.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct GateState {
        last: Option<Last>,
        pending: Flags,
        frozen_since: Moment,
        frozen_low: Pressure,
        frozen_high: Pressure,
        /// The longest that readings stayed the same by nature.
        longest: Span,
        extreme: Flow,
        /// Sizes of the last two excursions' extremes, of one sign and the other.
        before: [u32; 2],
        at_extreme: u8,
        extreme_since: Moment,
        disordered: u8,
        disordered_at: Moment,
    }
}

record! {
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    struct Last {
        at: Moment,
        reading: Reading,
    }
}

impl GateState {
    fn start(&mut self, at: Moment, reading: Reading) -> Passed {
        self.thaw(at, reading.pressure);
        self.last = Some(Last { at, reading });
        self.extreme = reading.flow;
        self.extreme_since = at;
        Passed::Start
    }

    /// A reading not later than the last. One stray is refused; a run of them in good order among
    /// themselves means that the clock was set back, and counting starts afresh.
    fn disorder(&mut self, at: Moment, reading: Reading) -> Passed {
        self.pending = self.pending.with(Flags::DISORDER);
        let in_order = self.disordered == 0 || at >= self.disordered_at;
        self.disordered = if in_order { self.disordered.saturating_add(1) } else { 1 };
        self.disordered_at = at;
        if self.disordered < DISORDER_LIMIT {
            return Passed::Refused(Refusal::NotLater);
        }
        let since = self.last.map_or(at, |last| last.at);
        let flags = self.pending;
        *self = Self::default();
        let _ = self.start(at, reading);
        Passed::Cut { since, flags }
    }

    fn thaw(&mut self, at: Moment, pressure: Pressure) {
        if self.frozen_low == self.frozen_high {
            let ended = self.last.map_or(Span::ZERO, |last| last.at.since(self.frozen_since));
            if ended < NATURAL {
                self.longest = self.longest.max(ended);
            }
        }
        self.frozen_since = at;
        self.frozen_low = pressure;
        self.frozen_high = pressure;
    }

    fn watch(&mut self, at: Moment, to: Reading, gate: &Gate) -> Flags {
        let same = self.last.is_some_and(|last| last.reading.flow == to.flow);
        if same {
            self.frozen_low = self.frozen_low.min(to.pressure);
            self.frozen_high = self.frozen_high.max(to.pressure);
        } else {
            self.thaw(at, to.pressure);
        }
        Flags::when(Flags::STUCK, same && self.is_stuck(at, gate.frozen))
            .with(Flags::when(Flags::CLIPPED, self.is_clipped(at, to.flow, gate.flow_limit)))
    }

    fn is_stuck(&self, at: Moment, frozen: Span) -> bool {
        let span = at.since(self.frozen_since);
        let twice = frozen.saturating_add(frozen);
        if self.frozen_low == self.frozen_high {
            // A sensor of coarse steps repeats itself in every quiet expiration.
            let usual = self.longest.saturating_add(self.longest).saturating_add(self.longest);
            span >= frozen.max(usual) || span >= self.ten_times(frozen)
        } else {
            let moved = self.frozen_high.saturating_sub(self.frozen_low).value;
            span >= twice && moved > Pressure::from_int(1)
        }
    }

    fn ten_times(&self, frozen: Span) -> Span {
        let twice = frozen.saturating_add(frozen);
        let four = twice.saturating_add(twice);
        four.saturating_add(four).saturating_add(twice)
    }

    /// The flow sits at the end of the sensor's range, or at the largest value of this excursion
    /// from zero where the last excursion of either sign ended at just that value too.
    fn is_clipped(&mut self, at: Moment, flow: Flow, limit: Flow) -> bool {
        let size = flow.to_bits().unsigned_abs();
        if (flow < Flow::ZERO) != (self.extreme < Flow::ZERO) {
            let [latest, _] = self.before;
            self.before = [self.extreme.to_bits().unsigned_abs(), latest];
            self.extreme = Flow::ZERO;
        }
        if size > self.extreme.to_bits().unsigned_abs() {
            self.extreme = flow;
            self.extreme_since = at;
            self.at_extreme = 1;
            return false;
        }
        if flow != self.extreme {
            self.at_extreme = 0;
            return false;
        }
        if self.at_extreme == 0 {
            self.extreme_since = at;
        }
        self.at_extreme = self.at_extreme.saturating_add(1);
        let sits = self.at_extreme >= CLIP_SAMPLES && at.since(self.extreme_since) >= CLIP_SPAN;
        let near_limit = flow.to_bits().unsigned_abs() >= limit.halved(1).to_bits().unsigned_abs();
        sits && size > CLIP_FLOOR.to_bits().unsigned_abs()
            && (near_limit || self.before.contains(&size))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(flow: i16, pressure: i16) -> Reading {
        Reading { flow: Flow::from_int(flow), pressure: Pressure::from_int(pressure) }
    }

    /// Feeds `flows` at 100 Hz under a pressure that changes every sample; the flags of each.
    fn run(flows: impl Iterator<Item = i16>) -> std::vec::Vec<Flags> {
        let (gate, mut state) = (Gate::default(), GateState::default());
        let mut out = std::vec::Vec::new();
        for (i, flow) in flows.enumerate() {
            let i = u64::try_from(i).unwrap();
            let wiggle = i16::try_from(i % 2).unwrap();
            if let Passed::Step(step) =
                gate.step(&mut state, Moment::from_us(i * 10_000), reading(flow, 5 + wiggle))
            {
                out.push(step.flags);
            }
        }
        out
    }

    #[test]
    fn a_gap_is_flagged_just_beyond_the_limit() {
        let (gate, mut state) = (Gate::default(), GateState::default());
        assert_eq!(gate.step(&mut state, Moment::from_us(0), reading(1, 5)), Passed::Start);
        for (at, flags) in [(100_000, Flags::NONE), (200_001, Flags::GAP), (210_000, Flags::NONE)] {
            match gate.step(&mut state, Moment::from_us(at), reading(2, 5)) {
                Passed::Step(step) => assert_eq!(step.flags, flags, "at {at}"),
                other => panic!("{other:?}"),
            }
        }
    }

    #[test]
    fn two_hours_of_silence_cut() {
        let (gate, mut state) = (Gate::default(), GateState::default());
        let _ = gate.step(&mut state, Moment::from_us(7), reading(1, 5));
        let after = Moment::from_us(7_200_000_000);
        let cut = gate.step(&mut state, after, reading(1, 5));
        assert_eq!(cut, Passed::Cut { since: Moment::from_us(7), flags: Flags::GAP });
        let next = gate.step(&mut state, after.after(Span::from_millis(10)), reading(1, 5));
        assert!(matches!(next, Passed::Step(step) if step.flags.is_empty()));
    }

    #[test]
    fn a_reading_out_of_range_is_refused_and_marks_the_next_interval() {
        let (gate, mut state) = (Gate::default(), GateState::default());
        let _ = gate.step(&mut state, Moment::from_us(0), reading(1, 5));
        let wild = gate.step(&mut state, Moment::from_us(10_000), reading(6_000, 5));
        assert_eq!(wild, Passed::Refused(Refusal::FlowOutOfRange));
        let wild = gate.step(&mut state, Moment::from_us(20_000), reading(0, 250));
        assert_eq!(wild, Passed::Refused(Refusal::PressureOutOfRange));
        let next = gate.step(&mut state, Moment::from_us(30_000), reading(3, 5));
        assert!(matches!(next, Passed::Step(s) if s.flags == Flags::OUT_OF_RANGE
            && s.span == Span::from_millis(30)));
    }

    #[test]
    fn one_stray_time_is_refused_and_a_clock_set_back_is_followed() {
        let (gate, mut state) = (Gate::default(), GateState::default());
        let _ = gate.step(&mut state, Moment::from_us(1_000_000), reading(1, 5));
        let stray = gate.step(&mut state, Moment::from_us(990_000), reading(1, 5));
        assert_eq!(stray, Passed::Refused(Refusal::NotLater));
        let next = gate.step(&mut state, Moment::from_us(1_010_000), reading(1, 5));
        assert!(matches!(next, Passed::Step(s) if s.flags == Flags::DISORDER));
        // The clock is set back to zero: seven are refused, the eighth starts afresh.
        let outcomes: std::vec::Vec<_> = (0..9)
            .map(|i| gate.step(&mut state, Moment::from_us(i * 10_000), reading(1, 5)))
            .collect();
        assert!(outcomes[..7].iter().all(|o| *o == Passed::Refused(Refusal::NotLater)));
        assert!(matches!(outcomes[7], Passed::Cut { .. }));
        assert!(matches!(outcomes[8], Passed::Step(_)));
    }

    /// The first of readings every 10 ms that is flagged as stuck.
    fn first_stuck(readings: impl Iterator<Item = Reading>) -> Option<u64> {
        let (gate, mut state) = (Gate::default(), GateState::default());
        (0..).zip(readings).find_map(|(i, reading)| {
            let passed = gate.step(&mut state, Moment::from_us(i * 10_000), reading);
            matches!(passed, Passed::Step(step) if step.flags.has(Flags::STUCK)).then_some(i)
        })
    }

    #[test]
    fn a_frozen_flow_under_moving_pressure_is_stuck_after_a_second() {
        let flags = run(core::iter::repeat_n(3, 150));
        // Pressure moves by 1 cmH2O only: not more than the limit, so never stuck.
        assert_eq!(flags.iter().position(|f| f.has(Flags::STUCK)), None);
        // 100 × 10 ms = 1 s
        assert_eq!(first_stuck((0..150).map(|i| reading(3, 5 + i % 12))), Some(100));
    }

    #[test]
    fn all_zeros_are_stuck_after_half_a_second() {
        // 50 × 10 ms = 500 ms
        assert_eq!(first_stuck((0..300).map(|_| reading(0, 0))), Some(50));
    }

    #[test]
    fn when_a_recording_begins_says_nothing_of_its_sensor() {
        // All zeros from 1.4 s on are stuck after 500 ms, as those from 0 s on: at 1.9 s.
        let (gate, mut state) = (Gate::default(), GateState::default());
        let stuck = (140..400_u64).find(|i| {
            let passed = gate.step(&mut state, Moment::from_us(i * 10_000), reading(0, 0));
            matches!(passed, Passed::Step(step) if step.flags.has(Flags::STUCK))
        });
        assert_eq!(stuck, Some(190));
    }

    #[test]
    fn a_coarse_sensor_is_not_stuck_in_every_expiration() {
        // 0.4 s of breathing, 0.7 s of quiet without a single change: at first that looks stuck,
        // then it is the way of this sensor; a freeze of three seconds still shows.
        let (gate, mut state) = (Gate::default(), GateState::default());
        let mut stuck = std::vec::Vec::new();
        for i in 0..1_600_u64 {
            let (cycle, phase) = (i / 110, i % 110);
            let frozen = phase >= 40 || i >= 1_200;
            let flow = if frozen { 2 } else { i16::try_from(10 + phase % 7).unwrap() };
            let passed = gate.step(&mut state, Moment::from_us(i * 10_000), reading(flow, 5));
            if matches!(passed, Passed::Step(step) if step.flags.has(Flags::STUCK)) {
                stuck.push(if i < 1_200 { cycle } else { 99 });
            }
        }
        stuck.dedup();
        assert_eq!(stuck, [0, 99]);
    }

    #[test]
    fn a_flow_that_ends_at_one_value_both_ways_is_clipped() {
        let clipped = [0, 20, 30, 30, 30, 30, 30, 30, 10, -10, -30, -30, -30, -30, -30, -30, -5];
        let flags = run(clipped.into_iter().chain(clipped));
        // Outward the same 30 comes again, and its fifth sample is 40 ms after the first.
        let first = flags.iter().position(|f| f.has(Flags::CLIPPED));
        assert_eq!(first, Some(13));
        let round = [0, 10, 20, 28, 30, 30, 29, 20, 10, -5, -20, -29, -20, -8];
        assert!(run(round.into_iter().chain(round)).iter().all(|f| f.is_empty()));
    }

    #[test]
    fn a_flow_near_the_sensors_end_is_clipped_at_once() {
        let flags = run([0, 2_500, 4_000, 4_000, 4_000, 4_000, 4_000, 0].into_iter());
        assert_eq!(flags.iter().position(|f| f.has(Flags::CLIPPED)), Some(5));
    }

    #[test]
    fn a_wild_reading_does_not_slip_in_with_a_clock_reset() {
        let (gate, mut state) = (Gate::default(), GateState::default());
        let _ = gate.step(&mut state, Moment::from_us(1_000_000), reading(1, 5));
        for i in 0..7 {
            let _ = gate.step(&mut state, Moment::from_us(i * 10_000), reading(1, 5));
        }
        let wild = gate.step(&mut state, Moment::from_us(70_000), reading(30_000, 5));
        assert_eq!(wild, Passed::Refused(Refusal::FlowOutOfRange));
        let tame = gate.step(&mut state, Moment::from_us(80_000), reading(1, 5));
        assert!(matches!(tame, Passed::Cut { .. }));
    }

    #[test]
    fn settings_are_checked() {
        let (f, p) = (Flow::from_int(100), Pressure::from_int(100));
        let ms = Span::from_millis;
        let bad = |r: Result<Gate, SettingError>| r.unwrap_err();
        assert_eq!(
            bad(Gate::new(Flow::ZERO, p, ms(100), ms(100), ms(500))).parameter,
            "flow_limit"
        );
        assert_eq!(
            bad(Gate::new(f, Pressure::ZERO, ms(100), ms(100), ms(500))).parameter,
            "pressure_limit"
        );
        assert_eq!(bad(Gate::new(f, p, ms(4), ms(100), ms(500))).problem, Problem::TooSmall);
        assert_eq!(bad(Gate::new(f, p, ms(100), ms(99), ms(500))).problem, Problem::Contradiction);
        assert_eq!(bad(Gate::new(f, p, ms(100), ms(31_000), ms(500))).problem, Problem::TooLarge);
        assert_eq!(bad(Gate::new(f, p, ms(100), ms(100), ms(49))).parameter, "frozen");
        assert!(Gate::new(f, p, ms(5), ms(5), ms(50)).is_ok());
    }
}
