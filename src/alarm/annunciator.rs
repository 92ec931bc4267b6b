//! A lamp on an output pin and a sounder on a pulse-width output, driven by ticks.
//!
//! Nothing waits. The pattern is as true as the ticks are frequent: an edge is late by at most the
//! time between two of them, so tick at least every few milliseconds. The pitch is that of the
//! output, which the caller sets: 150 to 1000 Hz by IEC 60601-1-8, from memory.

use super::Priority;
use super::priority::Flash;
use super::sound::Burst;
use crate::quantity::{Instant, Problem, SettingError};
use embedded_hal::digital::OutputPin;
use embedded_hal::pwm::SetDutyCycle;

/// What is shown since when, and what the output does now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct Shown {
    priority: Option<Priority>,
    since: Option<Instant>,
    last: Option<Instant>,
    /// Whether the output is on; `None` where it did not say so.
    on: Option<bool>,
}

impl Shown {
    fn show(&mut self, priority: Option<Priority>) {
        if self.priority != priority {
            self.priority = priority;
            self.since = None;
        }
    }

    /// When the pattern began; `None` for a moment not later than the last.
    fn tick(&mut self, at: Instant) -> Option<Instant> {
        if self.last.is_some_and(|last| at <= last) {
            return None;
        }
        self.last = Some(at);
        Some(*self.since.get_or_insert(at))
    }
}

/// An alarm lamp: flashes at high and medium priority, is constantly on at low, dark else.
#[derive(Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AlarmLamp<P> {
    pin: P,
    shown: Shown,
}

impl<P: OutputPin> AlarmLamp<P> {
    /// A lamp on a pin, dark at first: 500 ms (2 Hz) at high, 1.7 s (0.59 Hz) at medium priority, lit for 40 %.
    ///
    /// # Errors
    /// Whatever the pin says when it cannot be set.
    pub fn new(mut pin: P) -> Result<Self, P::Error> {
        pin.set_low()?;
        let shown = Shown { on: Some(false), ..Shown::default() };
        Ok(Self { pin, shown })
    }

    /// What to show from the next tick on. The same priority again does not restart the pattern.
    pub fn show(&mut self, priority: Option<Priority>) {
        self.shown.show(priority);
    }

    /// Sets the pin where it must change. A moment not later than the last is ignored. One wide
    /// divide.
    ///
    /// # Errors
    /// Whatever the pin says when it cannot be set; the next tick tries again.
    pub fn tick(&mut self, at: Instant) -> Result<(), P::Error> {
        let Some(since) = self.shown.tick(at) else { return Ok(()) };
        let elapsed = at.since(since);
        let lit = self.shown.priority.is_some_and(|priority| Flash::of(priority).is_lit(elapsed));
        if self.shown.on == Some(lit) {
            return Ok(());
        }
        self.shown.on = None;
        if lit {
            self.pin.set_high()?;
        } else {
            self.pin.set_low()?;
        }
        self.shown.on = Some(lit);
        Ok(())
    }
}

/// An alarm sounder: bursts of pulses by priority.
#[derive(Debug)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct AlarmSounder<S> {
    output: S,
    duty_percent: u8,
    shown: Shown,
}

impl<S: SetDutyCycle> AlarmSounder<S> {
    /// A sounder, silent from the first tick on: ten pulses of 150 ms (three, two, a pause; three, two) every 8.3 s at
    /// high priority, three of 200 ms every 11 s at medium, one of 200 ms, once, at low. It sounds at a duty cycle of
    /// 1 to 50 percent, the louder the higher.
    ///
    /// # Errors
    /// `duty_percent` outside its range.
    pub fn new(output: S, duty_percent: u8) -> Result<Self, SettingError> {
        if duty_percent == 0 {
            return Err(SettingError::new("duty_percent", Problem::NotPositive));
        }
        if duty_percent > 50 {
            return Err(SettingError::new("duty_percent", Problem::TooLarge));
        }
        Ok(Self { output, duty_percent, shown: Shown::default() })
    }

    /// What to sound from the next tick on. The same priority again does not restart the pattern.
    pub fn show(&mut self, priority: Option<Priority>) {
        self.shown.show(priority);
    }

    /// Sets the output where it must change. A moment not later than the last is ignored. One wide
    /// divide.
    ///
    /// # Errors
    /// Whatever the output says when it cannot be set; the next tick tries again.
    pub fn tick(&mut self, at: Instant) -> Result<(), S::Error> {
        let Some(since) = self.shown.tick(at) else { return Ok(()) };
        let elapsed = at.since(since);
        let priority = self.shown.priority;
        let sounds = priority.is_some_and(|priority| Burst::of(priority).is_sounding(elapsed));
        if self.shown.on == Some(sounds) {
            return Ok(());
        }
        self.shown.on = None;
        let duty = if sounds { self.duty_percent } else { 0 };
        self.output.set_duty_cycle_percent(duty)?;
        self.shown.on = Some(sounds);
        Ok(())
    }
}
