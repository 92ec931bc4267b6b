//! What the machine listens to.

use crate::cause::Seen;
use crate::check::within;
use crate::error::ScenarioError;
use crate::supply::SupplySettings;
use crate::truth::Cause;

/// What sets the machine off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Trigger {
    /// Inward flow at the sensor above the threshold of the settings.
    Flow,
    /// Airway pressure so far below the baseline in cmH2O, 0.1 to 5. Only hoses that yield let it fall, and
    /// bubbles would move it too: refused without the one and beside the other. The share of the leak that the
    /// machine takes off counts here as the pressure that it costs in the hoses.
    Pressure(f64),
}

impl Trigger {
    pub(crate) fn check(self) -> Result<(), ScenarioError> {
        match self {
            Self::Flow => Ok(()),
            Self::Pressure(fall) => within("machine.trigger", fall, 0.1, 5.0),
        }
    }
}

/// The trigger, and the flows as the hoses pass them on.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ear {
    trigger: Trigger,
    hoses: Option<SupplySettings>,
    felt: Seen,
}

impl Ear {
    pub(crate) fn new(trigger: Trigger, hoses: Option<SupplySettings>) -> Self {
        Self { trigger, hoses, felt: Seen::default() }
    }

    /// Follows what is seen: pressure falls by the hoses' resistance times each part of the flow, late by their
    /// time constant.
    pub(crate) fn step(&mut self, dt: f64, seen: &Seen) {
        let (Trigger::Pressure(_), Some(hoses)) = (self.trigger, self.hoses) else {
            self.felt = *seen;
            return;
        };
        let part = dt / (hoses.resistance * hoses.compliance + dt);
        let late = |felt: f64, seen: f64| felt + (seen - felt) * part;
        self.felt = Seen {
            lung: late(self.felt.lung, seen.lung),
            leak: late(self.felt.leak, seen.leak),
            ripple: late(self.felt.ripple, seen.ripple),
            water: late(self.felt.water, seen.water),
            ..*seen
        };
    }

    /// What sets the machine off now, if anything does: a threshold in mL/s, a baseline in cmH2O, and so much
    /// of the flow in mL/s taken for leak.
    pub(crate) fn hears(&self, threshold: f64, baseline: f64, leak: f64) -> Option<Cause> {
        match (self.trigger, self.hoses) {
            (Trigger::Pressure(fall), Some(hoses)) => {
                let lost = hoses.resistance * leak;
                let heard = self.felt.airway < baseline - lost - fall;
                heard.then(|| self.felt.cause(fall / hoses.resistance, leak))
            }
            (Trigger::Flow | Trigger::Pressure(_), _) => {
                let heard = self.felt.flow() - leak > threshold;
                heard.then(|| self.felt.cause(threshold, leak))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOSES: SupplySettings = SupplySettings { resistance: 0.05, compliance: 0.4 };

    #[test]
    fn a_fall_of_pressure_is_heard_and_told_by_the_flows_that_made_it() {
        // 0.5 cmH2O over 0.05 are 10 mL/s: 12 of them make 5 fall to 4.4. Leak of 12, or 8 of it beside ripple
        // of 4, or 12 of the infant's.
        let cases = [
            (Seen { lung: 12.0, muscle: 1.0, ..Seen::default() }, Cause::Effort),
            (Seen { leak: 12.0, ..Seen::default() }, Cause::SelfLeak),
            (Seen { leak: 8.0, ripple: 4.0, ..Seen::default() }, Cause::SelfRipple),
        ];
        for (seen, cause) in cases {
            let mut ear = Ear::new(Trigger::Pressure(0.5), Some(HOSES));
            let heard = |ear: &mut Ear, steps, airway: f64, leak| {
                for _ in 0..steps {
                    ear.step(0.000_5, &Seen { airway, ..seen });
                }
                ear.hears(4.0, 5.0, leak)
            };
            assert_eq!(heard(&mut ear, 400, 4.6, 0.0), None);
            assert_eq!(heard(&mut ear, 1, 4.4, 0.0), Some(cause));
            // 2.2 mL/s taken off cost 0.11 cmH2O
            assert_eq!(heard(&mut ear, 1, 4.4, 2.2), None);
        }
    }

    #[test]
    fn what_is_felt_comes_late() {
        // Textbook: 63.2 % of 20 mL/s after 0.05 × 0.4 = 20 ms; the backward step errs by about 1 %.
        let mut ear = Ear::new(Trigger::Pressure(0.5), Some(HOSES));
        for _ in 0..40 {
            ear.step(0.000_5, &Seen { leak: 20.0, airway: 4.4, ..Seen::default() });
        }
        assert!((ear.felt.leak - 12.64).abs() < 0.15, "{}", ear.felt.leak);
    }

    #[test]
    fn flow_is_heard_at_once_and_above_its_threshold_alone() {
        let mut ear = Ear::new(Trigger::Flow, Some(HOSES));
        ear.step(0.000_5, &Seen { leak: 6.0, airway: 4.0, ..Seen::default() });
        assert_eq!(ear.hears(5.9, 5.0, 0.0), Some(Cause::SelfLeak));
        assert_eq!(ear.hears(6.0, 5.0, 0.0), None);
        assert_eq!(ear.hears(4.0, 5.0, 2.0), None);
    }
}
