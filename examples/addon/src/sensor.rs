//! Where samples come from: a trait of our own, and a sensor on SPI or I2C.

use embedded_hal::i2c::I2c;
use embedded_hal::spi::SpiDevice;
use tidevane::quantity::{Flow, Pressure, SettingError};
use tidevane::signal::{FlowTable, Reading};

/// What a sensor counts. A converter on the chip itself takes the trait [`Sensor`] as well.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Counts {
    /// Flow, by the sensor's own curve.
    pub flow: i16,
    /// Pressure, in hundredths of cmH2O.
    pub pressure: i16,
}

/// Something that can be asked for a sample.
pub trait Sensor {
    /// What can go wrong.
    type Error;

    /// The newest sample. It must not wait for longer than the tick.
    ///
    /// # Errors
    /// A sample that was lost or unreadable; the next tick asks again.
    fn read(&mut self) -> Result<Counts, Self::Error>;
}

/// An invented sensor: four bytes, flow then pressure, the high byte first.
#[derive(Debug)]
pub struct SpiSensor<D>(pub D);

impl<D: SpiDevice> Sensor for SpiSensor<D> {
    type Error = D::Error;

    fn read(&mut self) -> Result<Counts, D::Error> {
        let mut bytes = [0; 4];
        self.0.read(&mut bytes)?;
        Ok(Counts::of(bytes))
    }
}

/// The same on I2C: the four bytes stand at one address.
#[derive(Debug)]
pub struct I2cSensor<B> {
    /// The bus.
    pub bus: B,
    /// The sensor's address of seven bits.
    pub address: u8,
}

impl<B: I2c> Sensor for I2cSensor<B> {
    type Error = B::Error;

    fn read(&mut self) -> Result<Counts, B::Error> {
        let mut bytes = [0; 4];
        self.bus.read(self.address, &mut bytes)?;
        Ok(Counts::of(bytes))
    }
}

impl Counts {
    const fn of([a, b, c, d]: [u8; 4]) -> Self {
        Self { flow: i16::from_be_bytes([a, b]), pressure: i16::from_be_bytes([c, d]) }
    }
}

/// The sensor's curve.
#[derive(Debug)]
pub struct Scale(FlowTable<2>);

impl Scale {
    /// 0.02 mL/s a count, straight. Put the points of your own sensor's data sheet here.
    ///
    /// # Errors
    /// Points out of order.
    pub fn new() -> Result<Self, SettingError> {
        let ends = [(-32_000, Flow::from_int(-640)), (32_000, Flow::from_int(640))];
        Ok(Self(FlowTable::new(ends)?))
    }

    /// Counts in units; `None` beyond the curve's ends, where the sensor says no more than that.
    #[must_use]
    pub fn reading(&self, counts: Counts) -> Option<Reading> {
        let flow = self.0.flow(counts.flow.into()).within()?;
        let pressure = Pressure::from_milli(i32::from(counts.pressure) * 10).within()?;
        Some(Reading { flow, pressure })
    }
}
