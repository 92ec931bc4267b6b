//! The SPI port of the nRF51822, after the chip's reference manual, from memory.

use super::microbit::{GPIO, register};
use core::convert::Infallible;
use embedded_hal::spi::{self, Operation, SpiDevice};

const SPI: u32 = 0x4000_3000;

/// The SPI port, eight bits a time; pin 22 selects the chip.
pub(crate) struct Spi(());

impl Spi {
    const SELECT: u32 = 1 << 22;

    pub(crate) fn new() -> Self {
        register(GPIO, 0x508).write(Self::SELECT);
        register(GPIO, 0x518).write(Self::SELECT);
        register(SPI, 0x508).write(23); // clock
        register(SPI, 0x510).write(25); // in
        register(SPI, 0x524).write(0x1000_0000); // 1 MHz
        register(SPI, 0x500).write(1); // on
        Self(())
    }

    fn exchange(out: u8) -> u8 {
        register(SPI, 0x108).write(0);
        register(SPI, 0x51c).write(out.into());
        while register(SPI, 0x108).read() == 0 {}
        register(SPI, 0x518).read() as u8
    }
}

impl spi::ErrorType for Spi {
    type Error = Infallible;
}

impl SpiDevice for Spi {
    fn transaction(&mut self, operations: &mut [Operation<'_, u8>]) -> Result<(), Infallible> {
        register(GPIO, 0x50c).write(Self::SELECT);
        for operation in operations {
            match operation {
                Operation::Read(to) => to.iter_mut().for_each(|byte| *byte = Self::exchange(0)),
                Operation::Write(from) => from.iter().for_each(|&byte| {
                    Self::exchange(byte);
                }),
                // Nothing here needs them.
                Operation::Transfer(..) | Operation::TransferInPlace(_) | Operation::DelayNs(_) => {
                }
            }
        }
        register(GPIO, 0x508).write(Self::SELECT);
        Ok(())
    }
}
