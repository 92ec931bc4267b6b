//! A board's pin behind the traits of `embedded-hal`: all it has to know is on and off.

use super::chosen::Pin;
use core::convert::Infallible;
use embedded_hal::digital::{ErrorType, OutputPin};
use embedded_hal::pwm::{self, SetDutyCycle};

impl ErrorType for Pin {
    type Error = Infallible;
}

impl OutputPin for Pin {
    fn set_low(&mut self) -> Result<(), Infallible> {
        self.set(false);
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        self.set(true);
        Ok(())
    }
}

impl pwm::ErrorType for Pin {
    type Error = Infallible;
}

impl SetDutyCycle for Pin {
    fn max_duty_cycle(&self) -> u16 {
        100
    }

    fn set_duty_cycle(&mut self, duty: u16) -> Result<(), Infallible> {
        self.set(duty > 0);
        Ok(())
    }
}
