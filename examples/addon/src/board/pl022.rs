//! The SPI port of the MPS2 boards (Arm's PL022), after its reference manual, from memory.

use super::mps2::register;
use core::convert::Infallible;
use embedded_hal::spi::{self, Operation, SpiDevice};

#[cfg(not(board = "an505"))]
const SPI: u32 = 0x4002_0000;
#[cfg(board = "an505")]
const SPI: u32 = 0x5020_5000;

/// The SPI port (PL022), eight bits a time. The port drives its own chip select.
pub(crate) struct Spi(());

impl Spi {
    pub(crate) fn new() -> Self {
        register(SPI, 0x00).write(7); // eight bits, mode 0
        register(SPI, 0x10).write(24); // a twenty-fourth of the clock: about 1 MHz
        register(SPI, 0x04).write(2); // on
        Self(())
    }

    fn exchange(out: u8) -> u8 {
        const ARRIVED: u32 = 4;
        register(SPI, 0x08).write(out.into());
        while register(SPI, 0x0c).read() & ARRIVED == 0 {}
        register(SPI, 0x08).read() as u8
    }
}

impl spi::ErrorType for Spi {
    type Error = Infallible;
}

impl SpiDevice for Spi {
    fn transaction(&mut self, operations: &mut [Operation<'_, u8>]) -> Result<(), Infallible> {
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
        Ok(())
    }
}
