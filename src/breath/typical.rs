//! What breaths have been like: the scale by which a turn of the flow is believed.

use super::Breath;
use crate::quantity::unit::MlPerS;
use crate::quantity::{Area, Flow};
use crate::record;

record! {
    #[const_default]
    /// What breaths have been like.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[cfg_attr(feature = "defmt", derive(defmt::Format))]
    pub(super) struct TypicalBreath {
        /// Inspired volume; zero before the first breath.
        pub(super) volume: Area<MlPerS>,
        /// Peak inward flow.
        pub(super) flow: Flow,
        /// How far noise and heartbeat ripple reach above the mean of a quiet expiration.
        pub(super) ripple: Flow,
        /// Standard deviation of the quiet flow.
        pub(super) spread: Flow,
    }
}

/// What ripple at its reach moves in this time, in µs, makes no turn. Chosen here, no source.
const RIPPLE_US: u32 = 100_000;

impl TypicalBreath {
    /// What a turn must move, where a breath reached this peak flow.
    pub(super) fn least_turn(&self, peak_in: Flow) -> Area<MlPerS> {
        let volume = if self.volume > Area::ZERO {
            self.volume.fraction(4)
        } else {
            // Until breaths are known: what the largest flow of this one moves in 10 ms.
            peak_in.ramp(Flow::ZERO, 20_000)
        };
        volume.max(self.ripple.over(RIPPLE_US))
    }

    /// Moves toward this breath.
    pub(super) fn learn(&mut self, breath: &Breath) {
        // What came out is gas that was in the lung; what went in counts the leak too.
        let into = breath.inspiration.flow_area();
        let out = Area::ZERO.saturating_sub(breath.expiration.flow_area());
        let volume = into.min(out);
        if volume < into.max(out).fraction(2) {
            // In and out are no pair: half a breath, or one stacked on another.
            return;
        }
        let flow = breath.peak_insp_flow;
        if let Some(quiet) = breath.quiet {
            // A quiet end that was none must not raise the level out of reach.
            let reach = quiet.high.saturating_sub(quiet.flow).value.min(flow.halved(2));
            self.ripple = self.ripple.lowpass(reach, 2);
            self.spread = self.spread.lowpass(quiet.spread.min(flow.halved(2)), 2);
        }
        if self.volume <= Area::ZERO {
            *self = Self { volume, flow, ..*self };
        } else {
            // Up by half, down by an eighth: small own breaths between inflations must not lower
            // the bar to where noise passes it.
            let halvings = if volume > self.volume { 1 } else { 3 };
            self.volume = self.volume.lowpass(volume, halvings);
            self.flow = self.flow.lowpass(flow, 2);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::PhaseIntegrals;
    use super::*;
    use crate::quantity::Volume;

    #[test]
    fn a_turn_must_move_more_than_a_part_of_a_breath_and_than_ripple() {
        let milli = |usual: TypicalBreath| {
            let volume = usual.least_turn(Flow::from_int(50)).in_seconds().value;
            (volume.to_f64() * 1e3).round()
        };
        // No breath yet: a peak of 50 mL/s moves 0.5 mL in 10 ms.
        assert_eq!(milli(TypicalBreath::default()), 500.0);
        // A sixteenth of 4.8 mL.
        let volume = Area::of_seconds(Volume::from_milli(4_800).value);
        assert_eq!(milli(TypicalBreath { volume, ..TypicalBreath::default() }), 300.0);
        // Ripple of 4 mL/s for 0.1 s.
        let ripple = Flow::from_int(4);
        assert_eq!(milli(TypicalBreath { volume, ripple, ..TypicalBreath::default() }), 400.0);
    }

    #[test]
    fn a_quarter_that_comes_back_makes_a_pair() {
        // 8 mL in; 2 out are a quarter, 1.9 are less.
        let learned = |out: i32| {
            let (inspiration, expiration) =
                (PhaseIntegrals::steady(20_000, 5, 400), PhaseIntegrals::steady(-out, 5, 1_000));
            let mut usual = TypicalBreath::default();
            usual.learn(&Breath { inspiration, expiration, ..Breath::plain() });
            usual.volume
        };
        assert_eq!(learned(2_000), Area::of_seconds(Volume::from_int(2)));
        assert_eq!(learned(1_900), Area::ZERO);
    }
}
