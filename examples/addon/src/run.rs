//! The loop of the firmware: sleep until the timer's next tick, ask the sensor, tell the monitor, feed the
//! watchdog. It is fed only here, after all of that was done, so that whatever hangs is noticed.

use crate::board::{self, Board, Pin, Serial, Spi, Watchdog};
use addon::check::Check;
use addon::sensor::SpiSensor;
use addon::settings::PERIOD_US;
use core::sync::atomic::{AtomicU32, Ordering};
use cortex_m::peripheral::{SYST, syst::SystClkSource};
#[cfg(feature = "defmt")]
use defmt_semihosting as _;
use tidevane::monitor::Monitor;
use tidevane::quantity::Tick;

/// Ticks since power-up; only the timer's interrupt counts.
pub struct Ticks(AtomicU32);

impl Ticks {
    pub(crate) const fn new() -> Self {
        Self(AtomicU32::new(0))
    }

    pub(crate) fn count(&self) {
        self.0.store(self.0.load(Ordering::Relaxed).wrapping_add(1), Ordering::Relaxed);
    }

    /// Sleeps until the timer has moved on.
    fn next(&self, seen: u32) -> u32 {
        loop {
            // The interrupt wakes the core even while it is held back, so none is slept through.
            let now = cortex_m::interrupt::free(|_| {
                let now = self.0.load(Ordering::Relaxed);
                if now == seen {
                    cortex_m::asm::wfi();
                }
                now
            });
            if now != seen {
                return now;
            }
        }
    }
}

/// What runs: the check, and what notices when it does not.
pub(crate) struct Firmware {
    check: Check<SpiSensor<Spi>, Pin, Pin, Serial>,
    watchdog: Watchdog,
}

impl Firmware {
    /// Takes the board, and starts the timer.
    pub(crate) fn start(monitor: &'static mut Monitor, mut timer: SYST) -> Self {
        let board = Board::new();
        let sensor = SpiSensor(board.spi);
        let Ok(check) = Check::new(monitor, sensor, board.lamp, board.buzzer, board.serial) else {
            board::give_up("the check cannot begin")
        };
        timer.set_clock_source(SystClkSource::Core);
        timer.set_reload(board::HZ / 1_000_000 * PERIOD_US - 1);
        timer.clear_current();
        timer.enable_interrupt();
        timer.enable_counter();
        Self { check, watchdog: board.watchdog }
    }

    pub(crate) fn run(&mut self, ticks: &Ticks) -> ! {
        let mut seen = 0;
        loop {
            let now = ticks.next(seen);
            let missed = now.wrapping_sub(seen) != 1;
            seen = now;
            // A lamp or a line that failed does not stop the check; the next tick tries again.
            let _ = self.check.tick(Tick::from_us(now.wrapping_mul(PERIOD_US)), missed);
            self.watchdog.feed();
        }
    }
}

#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    board::give_up("panic")
}
