//! The firmware: a timer tick, a check, a watchdog.
//!
//! The loop sleeps until the timer's next tick, asks the sensor, tells the monitor and feeds the
//! watchdog. It feeds it only here, after all of that was done, so that whatever hangs is noticed.
#![no_std]
#![no_main]

mod board;

use addon::check::Check;
use addon::sensor::SpiSensor;
use addon::settings::PERIOD_US;
use board::Board;
use core::sync::atomic::{AtomicU32, Ordering};
use cortex_m::peripheral::syst::SystClkSource;
use cortex_m_rt::{ExceptionFrame, entry, exception};
#[cfg(feature = "defmt")]
use defmt_semihosting as _;
use tidevane::quantity::Tick;

/// Ticks since power-up; only the timer's interrupt writes it.
static TICKS: AtomicU32 = AtomicU32::new(0);

#[exception]
fn SysTick() {
    TICKS.store(TICKS.load(Ordering::Relaxed).wrapping_add(1), Ordering::Relaxed);
}

#[entry]
fn main() -> ! {
    let Some(mut core) = cortex_m::Peripherals::take() else { board::give_up("taken twice") };
    let mut board = Board::new();
    let sensor = SpiSensor(board.spi);
    let Ok(mut check) = Check::new(sensor, board.lamp, board.buzzer, board.serial) else {
        board::give_up("the check cannot begin")
    };
    core.SYST.set_clock_source(SystClkSource::Core);
    core.SYST.set_reload(board::HZ / 1_000_000 * PERIOD_US - 1);
    core.SYST.clear_current();
    core.SYST.enable_interrupt();
    core.SYST.enable_counter();
    let mut seen = 0;
    loop {
        let now = next_tick(seen);
        let missed = now.wrapping_sub(seen) != 1;
        seen = now;
        // A lamp or a line that failed does not stop the check; the next tick tries again.
        let _ = check.tick(Tick::from_us(now.wrapping_mul(PERIOD_US)), missed);
        board.watchdog.feed();
    }
}

/// Sleeps until the timer has moved on.
fn next_tick(seen: u32) -> u32 {
    loop {
        // The interrupt wakes the core even while it is held back, so none is slept through.
        let now = cortex_m::interrupt::free(|_| {
            let now = TICKS.load(Ordering::Relaxed);
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

#[exception]
unsafe fn HardFault(_: &ExceptionFrame) -> ! {
    board::give_up("hard fault")
}

#[panic_handler]
fn panic(_: &core::panic::PanicInfo<'_>) -> ! {
    board::give_up("panic")
}
