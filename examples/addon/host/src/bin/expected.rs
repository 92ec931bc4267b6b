//! Writes the frames that the add-on sends for what a sensor sent: the same check, on the host.
//!
//! Arguments: what the sensor sent; the file to write.

use addon::check::Check;
use addon::sensor::{Counts, Sensor};
use addon::settings::PERIOD_US;
use anyhow::{Context, Result, anyhow};
use embedded_hal::digital::{self, OutputPin};
use embedded_hal::pwm::{self, SetDutyCycle};
use std::convert::Infallible;
use std::fs;
use tidevane::monitor::{Monitor, Settings};
use tidevane::quantity::Tick;

struct Sent(std::vec::IntoIter<u8>);

impl Sensor for Sent {
    type Error = ();

    fn read(&mut self) -> Result<Counts, ()> {
        let mut next = || self.0.next().ok_or(());
        let flow = i16::from_be_bytes([next()?, next()?]);
        let pressure = i16::from_be_bytes([next()?, next()?]);
        Ok(Counts { flow, pressure })
    }
}

/// A lamp that nobody sees.
struct Dark;

impl digital::ErrorType for Dark {
    type Error = Infallible;
}

impl OutputPin for Dark {
    fn set_low(&mut self) -> Result<(), Infallible> {
        Ok(())
    }

    fn set_high(&mut self) -> Result<(), Infallible> {
        Ok(())
    }
}

impl pwm::ErrorType for Dark {
    type Error = Infallible;
}

impl SetDutyCycle for Dark {
    fn max_duty_cycle(&self) -> u16 {
        100
    }

    fn set_duty_cycle(&mut self, _: u16) -> Result<(), Infallible> {
        Ok(())
    }
}

struct Bytes<'a>(&'a mut Vec<u8>);

impl embedded_io::ErrorType for Bytes<'_> {
    type Error = Infallible;
}

impl embedded_io::Write for Bytes<'_> {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Infallible> {
        self.0.extend(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> Result<(), Infallible> {
        Ok(())
    }
}

fn main() -> Result<()> {
    let mut arguments = std::env::args().skip(1);
    let from = arguments.next().context("what the sensor sent")?;
    let to = arguments.next().context("the file to write")?;
    let sent = fs::read(&from).context(from)?;
    let samples = u32::try_from(sent.len() / 4)?;
    let mut frames = Vec::new();
    let failed = |failure| anyhow!("{failure:?}");
    let sensor = Sent(sent.into_iter());
    let monitor = Box::leak(Box::new(Monitor::new(Settings::DEFAULT)));
    let mut check = Check::new(monitor, sensor, Dark, Dark, Bytes(&mut frames)).map_err(failed)?;
    for n in 1..=samples {
        check.tick(Tick::from_us(n.wrapping_mul(PERIOD_US)), false).map_err(failed)?;
    }
    drop(check);
    fs::write(&to, frames).context(to)
}
