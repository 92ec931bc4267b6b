//! What the check needs of a board. To port the add-on, write one more file like those here, or put
//! your chip's HAL in its place: all of it stands behind the traits of `embedded-hal`.

#[cfg(board = "microbit")]
mod microbit;
#[cfg(not(board = "microbit"))]
mod mps2;
mod pin;
mod register;

#[cfg(all(not(feature = "emulated"), board = "microbit"))]
mod nrf_spi;
#[cfg(not(any(feature = "emulated", board = "microbit")))]
mod pl022;
#[cfg(feature = "emulated")]
mod recorded;

#[cfg(board = "microbit")]
use microbit as chosen;
#[cfg(not(board = "microbit"))]
use mps2 as chosen;

pub(crate) use chosen::{HZ, Pin, Serial, Watchdog};

#[cfg(feature = "emulated")]
pub(crate) type Spi = recorded::Recorded;
#[cfg(not(any(feature = "emulated", board = "microbit")))]
pub(crate) type Spi = pl022::Spi;
#[cfg(all(not(feature = "emulated"), board = "microbit"))]
pub(crate) type Spi = nrf_spi::Spi;

/// The peripherals in use.
pub(crate) struct Board {
    pub(crate) spi: Spi,
    pub(crate) lamp: Pin,
    pub(crate) buzzer: Pin,
    pub(crate) serial: Serial,
    pub(crate) watchdog: Watchdog,
}

impl Board {
    pub(crate) fn new() -> Self {
        Self {
            spi: Spi::new(),
            lamp: Pin::lamp(),
            buzzer: Pin::buzzer(),
            serial: Serial::new(),
            watchdog: Watchdog::start(),
        }
    }
}

/// Nothing can be done any more. In an emulator the run fails; on a board it is reset and begins
/// afresh.
pub(crate) fn give_up(why: &str) -> ! {
    #[cfg(feature = "defmt")]
    defmt::error!("{=str}", why);
    #[cfg(feature = "emulated")]
    recorded::end(false, why);
    #[cfg(not(feature = "emulated"))]
    {
        let _ = why;
        cortex_m::peripheral::SCB::sys_reset()
    }
}
