//! The firmware: a timer tick, a check, a watchdog.
#![no_std]
#![no_main]

mod board;
mod run;

use cortex_m_rt::{ExceptionFrame, entry, exception};
use run::{Firmware, Ticks};
use tidevane::monitor::{Monitor, Settings};

static TICKS: Ticks = Ticks::new();

#[exception]
fn SysTick() {
    TICKS.count();
}

#[entry]
fn main() -> ! {
    static mut MONITOR: Monitor = Monitor::new(Settings::DEFAULT);
    let Some(core) = cortex_m::Peripherals::take() else { board::give_up("taken twice") };
    Firmware::start(MONITOR, core.SYST).run(&TICKS)
}

#[exception]
unsafe fn HardFault(_: &ExceptionFrame) -> ! {
    board::give_up("hard fault")
}
