//! The same firmware under RTIC 2: a task of the timer's interrupt counts, and the check runs in `idle`, to
//! which it belongs.
//!
//! Whatever else a firmware does goes into tasks that interrupt the check. It needs no lock against them, and a
//! tick that it could not keep up with shows in the count.
#![no_std]
#![no_main]

#[path = "../board/mod.rs"]
mod board;
#[path = "../run.rs"]
mod run;

use cortex_m_rt as _;

/// What RTIC asks of the device's crate: put your chip's in its place.
mod device {
    /// From memory.
    pub(crate) const NVIC_PRIO_BITS: u8 = 3;
}

#[rtic::app(device = crate::device, peripherals = false)]
mod app {
    use crate::run::{Firmware, Ticks};
    use tidevane::monitor::{Monitor, Settings};

    #[shared]
    struct Shared {
        ticks: Ticks,
    }

    #[local]
    struct Local {
        firmware: Firmware,
    }

    #[init(local = [monitor: Monitor = Monitor::new(Settings::DEFAULT)])]
    fn init(context: init::Context) -> (Shared, Local) {
        let firmware = Firmware::start(context.local.monitor, context.core.SYST);
        (Shared { ticks: Ticks::new() }, Local { firmware })
    }

    #[task(binds = SysTick, shared = [&ticks])]
    fn tick(context: tick::Context) {
        context.shared.ticks.count();
    }

    #[idle(local = [firmware], shared = [&ticks])]
    fn idle(context: idle::Context) -> ! {
        context.local.firmware.run(context.shared.ticks)
    }
}
