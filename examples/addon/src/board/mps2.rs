//! Arm's MPS2 and MPS2+ prototyping boards (Cortex-M3, M4, M7; with AN505 the M33 at its secure
//! addresses), after Arm's application notes AN385, AN386, AN500 and AN505, from memory.

use super::register::Register;
use core::convert::Infallible;
use embedded_io::Write;

#[cfg(not(board = "an505"))]
mod map {
    pub(crate) const HZ: u32 = 25_000_000;
    pub(super) const UART: u32 = 0x4000_4000;
    pub(super) const LEDS: u32 = 0x4002_8000;
    pub(super) const WATCHDOG: u32 = 0x4000_8000;
}
#[cfg(board = "an505")]
mod map {
    pub(crate) const HZ: u32 = 20_000_000;
    pub(super) const UART: u32 = 0x5020_0000;
    pub(super) const LEDS: u32 = 0x5030_2000;
    pub(super) const WATCHDOG: u32 = 0x5008_1000;
}
pub(crate) use map::HZ;

pub(super) const fn register(base: u32, offset: u32) -> Register {
    // SAFETY: registers of these boards; each is used in this file alone.
    unsafe { Register::at(base + offset) }
}

/// A light-emitting diode of the board. The second one stands for the sounder: the board has no
/// pulse-width output.
pub(crate) struct Pin(u32);

impl Pin {
    pub(crate) fn lamp() -> Self {
        Self(1)
    }

    pub(crate) fn buzzer() -> Self {
        Self(2)
    }

    pub(super) fn set(&self, on: bool) {
        let leds = register(map::LEDS, 0);
        let others = leds.read() & !self.0;
        leds.write(if on { others | self.0 } else { others });
    }
}

/// The serial line, 115 200 baud.
pub(crate) struct Serial(());

impl Serial {
    pub(crate) fn new() -> Self {
        register(map::UART, 0x10).write(HZ / 115_200); // baud divider
        register(map::UART, 0x08).write(1); // transmit
        Self(())
    }
}

impl embedded_io::ErrorType for Serial {
    type Error = Infallible;
}

impl Write for Serial {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Infallible> {
        const FULL: u32 = 1;
        for &byte in bytes {
            while register(map::UART, 0x04).read() & FULL != 0 {}
            register(map::UART, 0x00).write(byte.into());
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> Result<(), Infallible> {
        Ok(())
    }
}

/// Resets the board after a second without food.
pub(crate) struct Watchdog(());

impl Watchdog {
    pub(crate) fn start() -> Self {
        register(map::WATCHDOG, 0xc00).write(0x1acc_e551); // unlock
        register(map::WATCHDOG, 0x00).write(HZ); // one second to the warning, one more to the reset
        register(map::WATCHDOG, 0x08).write(3); // count, and reset
        Self(())
    }

    pub(crate) fn feed(&mut self) {
        register(map::WATCHDOG, 0x0c).write(1);
    }
}
