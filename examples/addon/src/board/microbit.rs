//! A board with a Nordic nRF51822 (Cortex-M0), after the chip's reference manual, from memory.

use super::register::Register;
use core::convert::Infallible;
use embedded_io::Write;

pub(crate) const HZ: u32 = 16_000_000;
const UART: u32 = 0x4000_2000;
const WATCHDOG: u32 = 0x4001_0000;
pub(super) const GPIO: u32 = 0x5000_0000;

pub(super) const fn register(base: u32, offset: u32) -> Register {
    // SAFETY: registers of these boards; each is used in this file alone.
    unsafe { Register::at(base + offset) }
}

/// An output pin. The second one stands for the sounder.
pub(crate) struct Pin(u32);

impl Pin {
    pub(crate) fn lamp() -> Self {
        Self::output(1 << 4)
    }

    pub(crate) fn buzzer() -> Self {
        Self::output(1 << 13)
    }

    fn output(pin: u32) -> Self {
        register(GPIO, 0x518).write(pin);
        Self(pin)
    }

    pub(super) fn set(&self, on: bool) {
        register(GPIO, if on { 0x508 } else { 0x50c }).write(self.0);
    }
}

/// The serial line, 115 200 baud.
pub(crate) struct Serial(());

impl Serial {
    pub(crate) fn new() -> Self {
        register(UART, 0x50c).write(24); // transmit on pin 24
        register(UART, 0x524).write(0x01d7_e000); // baud rate
        register(UART, 0x500).write(4); // on
        register(UART, 0x008).write(1); // start
        Self(())
    }
}

impl embedded_io::ErrorType for Serial {
    type Error = Infallible;
}

impl Write for Serial {
    fn write(&mut self, bytes: &[u8]) -> Result<usize, Infallible> {
        for &byte in bytes {
            register(UART, 0x11c).write(0);
            register(UART, 0x51c).write(byte.into());
            while register(UART, 0x11c).read() == 0 {}
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
        register(WATCHDOG, 0x504).write(32_768); // of a clock of 32 768 Hz
        register(WATCHDOG, 0x508).write(1); // one dish
        register(WATCHDOG, 0x000).write(1); // start
        Self(())
    }

    pub(crate) fn feed(&mut self) {
        register(WATCHDOG, 0x600).write(0x6e52_4635);
    }
}
