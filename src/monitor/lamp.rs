//! A lamp on an output pin that stands for one piece of advice.

use super::BreathReport;
use crate::trigger::Verdict;
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
            Some(Verdict::InNoise | Verdict::BelowLeak) => self.pin.set_high(),
            Some(Verdict::Clear | Verdict::AboveLeak | Verdict::Unknown) | None => {
                self.pin.set_low()
            }
        }
    }

    /// Gives the pin back.
    #[must_use]
    pub fn release(self) -> P {
        self.pin
    }
}
