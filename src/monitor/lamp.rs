//! A lamp on an output pin that stands for one piece of advice.

use super::BreathReport;
use crate::trigger::ThresholdVerdict;
use embedded_hal::digital::OutputPin;

/// Lit while the trigger threshold does not stand clear of leak, noise and ripple.
///
/// The lamp shows advice; connect nothing to its pin that acts on the patient.
#[derive(Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AdviceLamp<P> {
    pin: P,
}

impl<P: OutputPin> AdviceLamp<P> {
    /// A lamp on a pin, dark at first.
    ///
    /// # Errors
    /// Whatever the pin says when it cannot be set.
    pub fn new(mut pin: P) -> Result<Self, P::Error> {
        pin.set_low()?;
        Ok(Self { pin })
    }

    /// Shows what the latest breath says. Without a threshold, or before the floor is known, the
    /// lamp stays dark.
    ///
    /// # Errors
    /// Whatever the pin says when it cannot be set.
    pub fn show(&mut self, report: &BreathReport) -> Result<(), P::Error> {
        match report.trigger.map(|check| check.verdict) {
            Some(ThresholdVerdict::InNoise | ThresholdVerdict::BelowLeak) => self.pin.set_high(),
            Some(
                ThresholdVerdict::Clear | ThresholdVerdict::AboveLeak | ThresholdVerdict::Unknown,
            )
            | None => self.pin.set_low(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::monitor::{Monitor, Settings};
    use crate::quantity::{Flow, Instant, Pressure};
    use crate::signal::Reading;
    use crate::trigger::Threshold;
    use embedded_hal_mock::eh1::digital::{Mock, State, Transaction};
    use tidevane_sim::{LeakSettings, Scenario, Schedule, Simulator};

    /// The last breath of a minute under a leak.
    fn last_breath(leak: f64) -> BreathReport {
        let leak = LeakSettings { size: Schedule::constant(leak), ..LeakSettings::default() };
        let mut simulator = Simulator::new(&Scenario { leak, ..Scenario::default() }).unwrap();
        let threshold = Threshold::new(Flow::from_int(3)).unwrap();
        let mut monitor = Monitor::new(Settings::builder().threshold(threshold).build().unwrap());
        let mut last = None;
        while let Some(output) = Some(simulator.step()).filter(|o| o.at_us < 60_000_000) {
            if let Some(s) = output.sample {
                let reading = Reading {
                    flow: Flow::from_bits(s.flow_bits()),
                    pressure: Pressure::from_bits(s.pressure_bits()),
                };
                last = monitor.push_at(Instant::from_us(output.at_us), reading).breath.or(last);
            }
        }
        last.unwrap()
    }

    #[test]
    fn lit_while_the_threshold_lies_below_the_leak() {
        // At 5 cmH2O a leak of 0.2 mL/s per √cmH2O is 0.45 mL/s, one of 3 is 6.7: 3 lies between.
        let mut pin = Mock::new(&[
            Transaction::set(State::Low),
            Transaction::set(State::Low),
            Transaction::set(State::High),
        ]);
        let mut lamp = AdviceLamp::new(pin.clone()).unwrap();
        lamp.show(&last_breath(0.2)).unwrap();
        lamp.show(&last_breath(3.0)).unwrap();
        drop(lamp);
        pin.done();
    }

    #[test]
    fn every_verdict_has_its_light() {
        let lit = [
            (ThresholdVerdict::Clear, State::Low),
            (ThresholdVerdict::AboveLeak, State::Low),
            (ThresholdVerdict::Unknown, State::Low),
            (ThresholdVerdict::InNoise, State::High),
            (ThresholdVerdict::BelowLeak, State::High),
        ];
        let mut breath = last_breath(0.2);
        for (verdict, state) in lit {
            let mut pin = Mock::new(&[Transaction::set(State::Low), Transaction::set(state)]);
            let mut lamp = AdviceLamp::new(pin.clone()).unwrap();
            breath.trigger.as_mut().unwrap().verdict = verdict;
            lamp.show(&breath).unwrap();
            drop(lamp);
            pin.done();
        }
    }
}
