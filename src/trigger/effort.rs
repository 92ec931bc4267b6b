//! Efforts that got no inflation: what no passive lung does.
//!
//! In expiration the outward flow of a passive lung only fades; where it slackens and *grows again*,
//! an effort came and let go. Under the steady pressure of an inflation a single compartment obeys
//! Q + V/τ = (P + Pmus − P0)/R, so the left side stays constant as long as the infant does nothing,
//! whatever C and R are; an effort lifts it by Pmus/R. Only the time constant τ must be known, and
//! passive expirations tell it: dQ = −dV/τ.

use crate::breath::{Breath, Phase, Totals};
use crate::quantity::{Flow, Moment, Pressure, SettingError, Span, arith};
use crate::record;
use crate::signal::{Flags, Interval};

/// Settings of the watch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct EffortWatch {
    least: Flow,
}

impl Default for EffortWatch {
    /// 1.5 mL/s.
    fn default() -> Self {
        Self { least: Flow::from_milli(1_500).value }
    }
}

record! {
    /// An effort that was seen.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
    pub struct Effort {
        /// When it was noticed.
        pub at: Moment,
        /// In expiration, how far the flow fell back; under pressure, muscle pressure over resistance.
        pub size: Flow,
        /// Whether it fell into an inflation or an expiration.
        pub during: Phase,
    }
}

record! {
    /// What the watch remembers.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub struct EffortState {
        /// The flow into the lung, smoothed over some 15 ms.
        smooth: Flow,
        reference: Pressure,
        steady_since: Moment,
        phase: Phase,
        steady: bool,
        /// 1/τ in 2⁻³² per µs; zero where no expiration has told it yet.
        inverse_tau: u32,
        /// The same with what the expiration under way says of it, until its breath is trusted.
        tentative: u32,
        /// V/τ with V counted from where the pressure became steady, and Q + V/τ smoothed.
        relaxed: Flow,
        balance: Flow,
        low: Flow,
        /// The flow has come up from its lowest in this expiration: a fall from here means something.
        armed: bool,
        least_flow: Flow,
        most_flow: Flow,
        /// For the next τ: the flow where the pressure became steady, and the total of it there.
        first: Flow,
        begun: i64,
        last: Option<Moment>,
    }
}

/// The pressure is steady while it keeps within this.
const STEADY: i64 = arith::widen(Pressure::from_milli(700).value.to_bits());
/// Flow needs this long to settle after a change of pressure.
const SETTLE: Span = Span::from_millis(40);
/// Two lifts closer than this are one effort.
const ONE_EFFORT: Span = Span::from_millis(300);
/// The floor follows with a time constant of 0.3 s, in 2⁻³² per µs.
const FOLLOW: u32 = 14_317;
/// Time constants outside are no infant's: 8 ms and 2.5 s, in 2⁻³² per µs.
const INVERSE_TAU: (u32, u32) = (1_718, 536_871);

impl EffortWatch {
    /// A watch for efforts of at least `least` (0.1 to 100 mL/s). In expiration it raises that to
    /// twice the reach of noise and ripple and to 1/32 of the usual peak flow, under pressure to 1/16
    /// of that flow.
    ///
    /// # Errors
    /// `least` outside its range.
    pub fn new(least: Flow) -> Result<Self, SettingError> {
        SettingError::within("least", least, Flow::from_milli(100).value, Flow::from_int(100))?;
        Ok(Self { least })
    }

    /// Takes an interval, the totals at its end and what the segmenter says of it. Four wide
    /// multiplies; one wide divide at the end of an expiration.
    pub fn step(
        &self,
        state: &mut EffortState,
        interval: &Interval,
        totals: &Totals,
        surroundings: Surroundings,
    ) -> Option<Effort> {
        let Surroundings { phase, inflated, .. } = surroundings;
        let Interval { at, span, from, to, flags } = interval;
        let shift = smoothing(*span);
        let moved = arith::away(state.reference.to_bits(), to.pressure.to_bits());
        let jumped = !(STEADY.wrapping_neg()..=STEADY).contains(&moved);
        if jumped {
            state.reference = to.pressure;
            state.steady_since = *at;
        }
        let gap = flags.has(Flags::GAP);
        if phase != state.phase || jumped || gap {
            if state.steady && state.phase == Phase::Expiration && !gap {
                let area = totals.lung_area_before(interval).wrapping_sub(state.begun);
                state.try_tau(area, self.under_pressure(surroundings));
            }
            (state.phase, state.steady) = (phase, false);
        }
        state.smooth = state.smooth.lowpass(to.lung, shift);
        if at.since(state.steady_since) < SETTLE {
            return None;
        }
        if !state.steady {
            // What the smoothing still carries of the change of pressure is no effort.
            state.smooth = to.lung;
            state.begin(to.lung, totals);
            return None;
        }
        state.follow(from.lung, to.lung, *span, shift);
        let size = match phase {
            Phase::Expiration => state.falls(self.in_expiration(surroundings)),
            Phase::Inspiration if inflated && state.inverse_tau != 0 => {
                state.grows(self.under_pressure(surroundings))
            }
            Phase::Inspiration | Phase::Unknown => None,
        }?;
        state.begin(to.lung, totals);
        let again = state.last.is_some_and(|last| at.since(last) < ONE_EFFORT);
        state.last = Some(*at);
        if again { None } else { Some(Effort { at: *at, size, during: phase }) }
    }

    /// Learns τ from the expiration of a closed breath; a flagged one changes nothing.
    pub fn learn(&self, state: &mut EffortState, breath: &Breath) {
        if breath.is_trusted() {
            state.inverse_tau = state.tentative;
        } else {
            state.tentative = state.inverse_tau;
        }
    }

    fn in_expiration(&self, around: Surroundings) -> Flow {
        let twice = around.reach.saturating_add(around.reach).value;
        self.least.max(twice).max(around.usual_peak.halved(5))
    }

    fn under_pressure(&self, around: Surroundings) -> Flow {
        self.in_expiration(around).max(around.usual_peak.halved(4))
    }
}

/// What is known beside the flow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Surroundings {
    /// Which way the gas goes.
    pub phase: Phase,
    /// The pressure stands above baseline by an inflation's rise.
    pub inflated: bool,
    /// How far noise and ripple reach.
    pub reach: Flow,
    /// The usual peak flow.
    pub usual_peak: Flow,
}

/// The share of a first-order lag of some 15 ms, as halvings, for a sampling interval: no divide.
fn smoothing(span: Span) -> u32 {
    match span.to_us() {
        0..1_200 => 4,
        1_200..2_500 => 3,
        2_500..6_000 => 2,
        6_000..12_000 => 1,
        _ => 0,
    }
}

impl EffortState {
    /// Under pressure: how far the balance rose from its lowest.
    fn grows(&mut self, least: Flow) -> Option<Flow> {
        let growth = self.balance.saturating_sub(self.low).value;
        Some(growth).filter(|growth| *growth >= least)
    }

    /// In expiration: how far the flow fell back from its highest, once it had come up: outward flow
    /// that slackens and grows again.
    fn falls(&mut self, least: Flow) -> Option<Flow> {
        if !self.armed {
            self.least_flow = self.least_flow.min(self.smooth);
            let up = self.smooth.saturating_sub(self.least_flow).value;
            self.armed = up >= least.halved(1);
            self.most_flow = self.smooth;
            return None;
        }
        self.most_flow = self.most_flow.max(self.smooth);
        Some(self.most_flow.saturating_sub(self.smooth).value).filter(|fall| *fall >= least)
    }

    /// The pressure has become steady.
    fn begin(&mut self, lung: Flow, totals: &Totals) {
        self.steady = true;
        (self.balance, self.low, self.armed) = (lung, lung, false);
        self.relaxed = Flow::ZERO;
        (self.least_flow, self.most_flow) = (self.smooth, self.smooth);
        (self.first, self.begun) = (lung, totals.lung_area());
    }

    /// Carries V/τ over an interval and smooths Q + V/τ: smoothing a constant delays nothing.
    fn follow(&mut self, before: Flow, lung: Flow, span: Span, shift: u32) {
        let us = span.to_short_us().value;
        let mean = arith::middle(before.to_bits(), lung.to_bits());
        let moved = arith::relaxed(mean, us, self.inverse_tau);
        self.relaxed = self.relaxed.saturating_add(Flow::from_bits(moved.value)).value;
        let now = lung.saturating_add(self.relaxed).value;
        self.balance = self.balance.lowpass(now, shift);
        // The floor follows slowly, so that what the leak model leaves over does not add up.
        let follows = arith::part_of_tau(us, FOLLOW);
        let low = arith::part_way(self.low.to_bits(), self.balance.to_bits(), follows);
        self.low = Flow::from_bits(low).min(self.balance);
    }

    /// What this part of an expiration, over which this doubled area flowed, says of τ, if its flow
    /// changed enough: a step of at most an eighth toward it, so that an effort now and then does
    /// little.
    fn try_tau(&mut self, area: i64, least: Flow) {
        let change = self.smooth.saturating_sub(self.first).value;
        if change < least {
            return;
        }
        let Some(inverse) = arith::inverse_tau(change.to_bits(), area) else { return };
        let (slowest, fastest) = INVERSE_TAU;
        if inverse < slowest || inverse > fastest {
            return;
        }
        self.tentative = arith::toward_u32(self.tentative, inverse);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::{End, Reading};

    /// A lung of R 0.1 cmH2O·s/mL and C 0.5 mL/cmH2O (τ 50 ms) at 200 Hz: five breaths of 15 over
    /// 5 cmH2O for 0.4 s each second, with muscle pressure over time in the last one.
    fn efforts(muscle: impl Fn(f64) -> f64) -> std::vec::Vec<Effort> {
        efforts_after(&Breath::plain(), muscle)
    }

    /// The same where such a breath was closed by each turn inward.
    fn efforts_after(closed: &Breath, muscle: impl Fn(f64) -> f64) -> std::vec::Vec<Effort> {
        let (watch, mut state) = (EffortWatch::default(), EffortState::default());
        let (mut volume, mut out) = (0.0_f64, std::vec::Vec::new());
        let (mut before, mut totals) = (End::default(), Totals::default());
        for i in 0..1_000_u64 {
            let t = f64::from(u32::try_from(i).unwrap()) / 200.0;
            let phase = t % 1.0;
            let inflating = phase < 0.4;
            let pressure = if inflating { 15.0 } else { 5.0 };
            let push = if t >= 4.0 { muscle(phase) } else { 0.0 };
            let flow = (pressure - 5.0 + push - volume / 0.5) / 0.1;
            volume += flow * 0.005;
            let bits = |x: f64| (x * 65_536.0) as i32;
            let reading = Reading {
                flow: Flow::from_bits(bits(flow)),
                pressure: Pressure::from_bits(bits(pressure)),
            };
            let span = Span::from_millis(5);
            let at = Moment::from_us(i * 5_000);
            let to = End::from(reading);
            let interval = Interval { at, span, from: before, to, flags: Flags::NONE };
            totals.add(&interval);
            before = to;
            let surroundings = Surroundings {
                phase: if flow > 0.0 { Phase::Inspiration } else { Phase::Expiration },
                inflated: inflating,
                reach: Flow::ZERO,
                usual_peak: Flow::from_int(40),
            };
            out.extend(watch.step(&mut state, &interval, &totals, surroundings));
            watch.learn(&mut state, closed);
        }
        out
    }

    /// Half a sine of muscle pressure: from when, how long (s), how strong (cmH2O).
    fn half_sine(from: f64, lasting: f64, size: f64) -> impl Fn(f64) -> f64 {
        move |t| {
            let x = (t - from) / lasting;
            if (0.0..1.0).contains(&x) { size * (x * core::f64::consts::PI).sin() } else { 0.0 }
        }
    }

    #[test]
    fn a_passive_lung_makes_no_effort() {
        assert_eq!(efforts(|_| 0.0), []);
    }

    #[test]
    fn an_effort_under_pressure_is_seen() {
        // 4 cmH2O over 0.1 cmH2O·s/mL would make 40 mL/s alone.
        let seen = efforts(half_sine(0.2, 0.3, 4.0));
        assert_eq!(seen.len(), 1, "{seen:?}");
        assert_eq!(seen[0].during, Phase::Inspiration);
        assert!((4_200_000..4_400_000).contains(&seen[0].at.to_us()), "{seen:?}");
    }

    #[test]
    fn a_flagged_breath_teaches_no_time_constant() {
        // Without one no effort is seen under pressure.
        let flagged = Breath { flags: Flags::NOISY, ..Breath::plain() };
        assert_eq!(efforts_after(&flagged, half_sine(0.2, 0.3, 4.0)), []);
    }

    #[test]
    fn an_effort_in_expiration_is_seen_when_it_lets_go() {
        // Short and early, while the flow is still well outward: it never turns.
        let seen = efforts(half_sine(0.45, 0.1, 1.5));
        assert_eq!(seen.len(), 1, "{seen:?}");
        assert_eq!(seen[0].during, Phase::Expiration);
    }

    #[test]
    fn settings_are_checked() {
        assert!(EffortWatch::new(Flow::from_milli(99).value).is_err());
        assert!(EffortWatch::new(Flow::from_int(101)).is_err());
        assert!(EffortWatch::new(Flow::from_int(3)).is_ok());
    }
}
