//! A circuit that stands open, or under suction: the pressure has fallen towards ambient, gas flows in
//! without an end, or inflations follow each other and nothing comes back.

use super::Breath;
use crate::quantity::{Duration, Flow, Instant, Pressure, Share, Volume};
use crate::record;
use crate::signal::{End, Flags, Interval};

record! {
    #[const_default]
    /// What the pressure usually falls back to, and what has happened at it since.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct OpenCircuit {
        usual: Option<Pressure>,
        /// Twice the inspiratory time of the last trusted breath.
        drawn: Duration,
        at: Instant,
        low: Duration,
        flowing: Duration,
        /// The pressure stands high, and how often it has come up since gas last flowed out.
        high: bool,
        inflations: u8,
        open: bool,
    }
}

/// A pressure below is low: this share of the usual baseline, or what a sensor near zero may read. Chosen
/// here, no source.
const LOST: Share = Share::from_percent(35);
const NEAR_AMBIENT: Pressure = Pressure::from_milli(800).value;
/// A machine that holds less than this cannot lose it. Chosen here, no source.
const HELD: Pressure = Pressure::from_int(2);
/// No infant's effort holds the pressure low for so long, nor one of twice the inspiratory time. Chosen
/// here, no source.
const LOW_FOR: Duration = Duration::from_millis(1_200);
/// Flow in that does not fall below this (1.8 L/min), nor below half the peak of a usual breath, for so long
/// is nobody's breath. Chosen here, no source.
const MUCH: Flow = Flow::from_int(30);
const FLOWING_FOR: Duration = Duration::from_millis(2_000);

/// So many inflations with nothing back are no breaths: common practice, no source.
const INFLATIONS: u8 = 3;
/// How far above the usual baseline the pressure comes up and has come down again. Chosen here, no source.
const UP: Pressure = Pressure::from_int(4);
const DOWN: Pressure = Pressure::from_int(2);
/// Flow that comes out and is no noise: 0.12 L/min outward. Chosen here, no source.
const OUT: Flow = Flow::from_int(-2);
/// Readings further apart say nothing of what was between.
const UNSEEN: Duration = Duration::from_millis(250);

impl OpenCircuit {
    /// Takes a reading some twenty times a second, and the peak flow of a usual breath. Whether the circuit
    /// stands open now: the pressure has been below 35 % of its usual baseline (0.8 cmH2O at least) for
    /// 1.2 s, or the flow above 30 mL/s and half that peak for 2 s (and both for twice an inspiratory time),
    /// or the pressure came up three times and no gas flowed out. A machine that usually holds less than
    /// 2 cmH2O has no pressure to lose.
    pub fn step(&mut self, interval: &Interval, peak: Flow) -> bool {
        let span = interval.at.since(core::mem::replace(&mut self.at, interval.at));
        if span > UNSEEN {
            self.start(interval.at);
            return false;
        }
        let lasting = |of: Duration, is_so: bool| {
            if is_so { of.saturating_add(span) } else { Duration::ZERO }
        };
        let pressure = interval.to.pressure;
        let is_low = self.usual.is_some_and(|usual| usual >= HELD && pressure < low(usual));
        self.low = lasting(self.low, is_low);
        self.flowing = lasting(self.flowing, interval.to.flow > MUCH.max(peak.halved(1)));
        self.count(&interval.to);
        let flows_on = self.flowing >= FLOWING_FOR.max(self.drawn);
        let nothing_back = self.inflations >= INFLATIONS;
        self.open = self.has_lost_pressure() || flows_on || nothing_back;
        self.open
    }

    /// Counts inflations since gas last flowed out.
    fn count(&mut self, now: &End) {
        if now.flow <= OUT {
            self.inflations = 0;
        }
        let Some(usual) = self.usual else { return };
        let above = now.pressure.saturating_sub(usual).value;
        let was = self.high;
        self.high = if was { above > DOWN } else { above >= UP };
        if self.high && !was {
            self.inflations = self.inflations.saturating_add(1);
        }
    }

    /// Whether it stood open at the last reading.
    #[must_use]
    pub const fn is_open(&self) -> bool {
        self.open
    }

    /// Whether pressure was lost; else it is the flow that does not turn, and that may be a leak.
    #[must_use]
    pub fn has_lost_pressure(&self) -> bool {
        self.low >= LOW_FOR.max(self.drawn)
    }

    /// Begins at a moment that nothing is known of before, but what breaths are usually like.
    pub fn start(&mut self, at: Instant) {
        *self = Self { usual: self.usual, drawn: self.drawn, at, ..Self::default() };
    }

    /// Learns from a closed breath where the pressure falls back to: a trusted one moves it a quarter of
    /// the way. One that was flagged as open but gave back more than half of its gas shows that the
    /// circuit is closed and the baseline another one.
    pub fn learn(&mut self, breath: &Breath) {
        let (inspired, out) = (breath.inspired.value, breath.most_out.value);
        let came_back = inspired > Volume::ZERO && out.saturating_add(out).value > inspired;
        if breath.is_trusted() {
            let was = self.usual.unwrap_or(breath.baseline);
            self.usual = Some(was.lowpass(breath.baseline, 2));
            self.drawn = breath.insp_time().saturating_add(breath.insp_time());
        } else if breath.flags.has(Flags::OPEN) && came_back {
            self.usual = Some(breath.baseline);
        }
    }
}

/// Some third of a baseline, or near ambient.
fn low(usual: Pressure) -> Pressure {
    NEAR_AMBIENT.max(usual.times(LOST).value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::Reading;

    /// Twenty readings a second by number of flow (mL/s) and pressure (cmH2O); when it first was open.
    fn opened(usual: Option<i16>, at: impl Fn(u16) -> (i16, i16)) -> Option<u16> {
        let usual = usual.map(Pressure::from_int);
        let mut circuit = OpenCircuit { usual, ..OpenCircuit::default() };
        (1..200).find(|&n| {
            let (flow, pressure) = at(n);
            let to = End::from(Reading {
                flow: Flow::from_int(flow),
                pressure: Pressure::from_int(pressure),
            });
            let at = Instant::from_us(u64::from(n) * 50_000);
            circuit.step(&Interval { at, to, ..Interval::default() }, Flow::from_int(50))
        })
    }

    #[test]
    fn a_pressure_near_ambient_opens_after_twelve_tenths_of_a_second() {
        // 0.35 × 6 = 2.1: 2 is low, 3 is not. From the 20th on, 50 ms each: the 43rd is the 24th.
        assert_eq!(opened(Some(6), |n| (0, if n < 20 { 6 } else { 2 })), Some(43));
        assert_eq!(opened(Some(6), |n| (0, if n < 20 { 6 } else { 3 })), None);
        // An effort of a second does not.
        assert_eq!(opened(Some(6), |n| (0, if n % 40 < 20 { 0 } else { 6 })), None);
    }

    #[test]
    fn no_pressure_held_is_none_lost() {
        assert_eq!(opened(Some(1), |_| (0, 0)), None);
        assert_eq!(opened(None, |_| (0, 0)), None);
    }

    #[test]
    fn flow_that_does_not_turn_opens_after_two_seconds() {
        // 40 × 50 ms.
        assert_eq!(opened(None, |n| (if n < 20 { 0 } else { 31 }, 5)), Some(59));
        assert_eq!(opened(None, |n| (if n % 20 == 0 { 30 } else { 90 }, 5)), None);
    }

    /// The first reading is followed for as long wherever time begins: 24 readings of 50 ms are 1.2 s.
    #[test]
    fn it_counts_from_where_it_starts() {
        for start in [Instant::from_us(0), Instant::from_us(5_000_000)] {
            let usual = Some(Pressure::from_int(6));
            let mut circuit = OpenCircuit { usual, ..OpenCircuit::default() };
            circuit.start(start);
            let opened = (1..100).find(|&n| {
                let at = start.after(Duration::from_us(n * 50_000));
                circuit.step(&Interval { at, ..Interval::default() }, Flow::ZERO)
            });
            assert_eq!(opened, Some(24), "started at {start:?}");
        }
    }

    #[test]
    fn three_inflations_with_nothing_back_are_open() {
        // Ten readings at 15 cmH2O and ten at 5, from the first on: up at 1, 21, 41.
        let pressure = |n: u16| if n % 20 < 10 { 15 } else { 5 };
        assert_eq!(opened(Some(5), |n| (8, pressure(n))), Some(40));
        // As soon as gas comes back between them they are breaths.
        let back = |n: u16| if n % 20 == 12 { -2 } else { 8 };
        assert_eq!(opened(Some(5), |n| (back(n), pressure(n))), None);
    }

    #[test]
    fn a_lowered_baseline_is_learned_from_breaths_that_come_back() {
        let ml = |n| crate::quantity::Saturated::exact(Volume::from_int(n));
        let mut circuit =
            OpenCircuit { usual: Some(Pressure::from_int(8)), ..OpenCircuit::default() };
        let open = Breath {
            flags: Flags::OPEN,
            baseline: Pressure::from_int(2),
            inspired: ml(10),
            most_out: ml(5),
            ..Breath::plain()
        };
        circuit.learn(&open);
        assert_eq!(circuit.usual, Some(Pressure::from_int(8)), "half came back");
        circuit.learn(&Breath { most_out: ml(6), ..open });
        assert_eq!(circuit.usual, Some(Pressure::from_int(2)));
        // A trusted breath at 6: a quarter of the way.
        let trusted = Breath { baseline: Pressure::from_int(6), ..Breath::plain() };
        circuit.learn(&trusted);
        assert_eq!(circuit.usual, Some(Pressure::from_int(3)));
    }
}
