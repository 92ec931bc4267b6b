//! Flow that breathes while nothing turns: the leak model has gone astray, as after an open circuit.
//!
//! The flow at the sensor is counted about its own slow mean, with no model: two breaths are four times
//! that it goes to the other side of it by a quarter of a usual breath's peak. A pause does not do that.

use super::Phase;
use crate::quantity::{Duration, Flow, Instant};
use crate::record;

record! {
    #[const_default]
    /// How often the flow has crossed its slow mean since the phase last turned.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    #[doc(hidden)]
    pub struct Unheard {
        at: Instant,
        mean: Option<Flow>,
        phase: Phase,
        /// It lies above the mean, where it was last far from it.
        above: bool,
        crossings: u8,
        lasted: Duration,
    }
}

/// The shortest time without a turn that is remarked on, and what two breaths make of it. Chosen here, no
/// source.
const LONG: Duration = Duration::from_millis(4_000);
const TWO_BREATHS: u8 = 4;
/// 1/τ of the slow mean, in 2⁻³² per µs: 2³² ÷ 2 000 000.
const TWO_SECONDS: u32 = 2_147;
/// Ripple and noise stay below; chosen here, no source.
const LEAST: Flow = Flow::from_int(4);

impl Unheard {
    /// Takes the flow some twenty times a second, the phase and the usual peak of an inspiration. The
    /// mean of the flow where it has breathed twice and no phase turned for 4 s. It counts afresh then.
    pub fn step(&mut self, at: Instant, flow: Flow, phase: Phase, peak: Flow) -> Option<Flow> {
        let span = at.since(core::mem::replace(&mut self.at, at));
        let Some(mean) = self.mean else {
            *self = Self { at, mean: Some(flow), phase, ..Self::default() };
            return None;
        };
        let mean = mean.toward(flow, span.part_of_tau(TWO_SECONDS));
        self.mean = Some(mean);
        if phase != self.phase {
            (self.phase, self.crossings, self.lasted) = (phase, 0, Duration::ZERO);
        }
        self.lasted = self.lasted.saturating_add(span);
        let far = LEAST.max(peak.halved(2));
        let beyond = flow.saturating_sub(mean).value;
        let is_far = beyond > far || beyond < Flow::ZERO.saturating_sub(far).value;
        if is_far && (beyond > Flow::ZERO) != self.above {
            self.above = !self.above;
            self.crossings = self.crossings.saturating_add(1);
        }
        if self.crossings < TWO_BREATHS || self.lasted < LONG {
            return None;
        }
        (self.crossings, self.lasted) = (0, Duration::ZERO);
        Some(mean)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Seconds of flows by number, twenty a second; after how many it is first remarked on.
    fn remarked(
        seconds: u16,
        phase: impl Fn(u16) -> Phase,
        flow: impl Fn(u16) -> i16,
    ) -> Option<u16> {
        let mut unheard = Unheard::default();
        (0..seconds * 20).find(|&n| {
            let (at, flow) = (Instant::from_us(u64::from(n) * 50_000), Flow::from_int(flow(n)));
            unheard.step(at, flow, phase(n), Flow::from_int(30)).is_some()
        })
    }

    /// A breath a second: 0.3 s in at 25 mL/s, 0.3 s out, 0.4 s quiet.
    fn breath(n: u16) -> i16 {
        match n % 20 {
            0..6 => 25,
            6..12 => -25,
            _ => 0,
        }
    }

    #[test]
    fn two_breaths_and_four_seconds_without_a_turn_are_remarked_on() {
        // From the second on, 50 ms each: 80 of them are 4 s.
        assert_eq!(remarked(10, |_| Phase::Inspiration, breath), Some(80));
        // On top of 40 mL/s that leak, about whose mean it breathes all the same.
        let open = |n| 40 + breath(n);
        assert_eq!(remarked(10, |_| Phase::Expiration, open), Some(80));
    }

    #[test]
    fn turns_pauses_and_ripple_are_not() {
        let turning = |n: u16| if n % 20 < 6 { Phase::Inspiration } else { Phase::Expiration };
        assert_eq!(remarked(60, turning, breath), None);
        assert_eq!(remarked(60, |_| Phase::Expiration, |n| if n % 2 == 0 { 3 } else { -3 }), None);
        // A step of the flow crosses once.
        assert_eq!(remarked(60, |_| Phase::Expiration, |n| if n < 100 { 0 } else { 70 }), None);
    }
}
