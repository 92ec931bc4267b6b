//! What only a board has: a way out by semihosting, a clock, a stack to measure.

pub mod clock;
pub mod host;
pub mod stack;

use core::fmt::Write;
use core::panic::PanicInfo;
use cortex_m_rt::{ExceptionFrame, exception};

#[panic_handler]
fn panic(info: &PanicInfo<'_>) -> ! {
    let _ = writeln!(host::Out, "{info}");
    host::exit(false)
}

#[exception]
unsafe fn HardFault(frame: &ExceptionFrame) -> ! {
    let _ = writeln!(host::Out, "hard fault at {:#010x}", frame.pc());
    host::exit(false)
}
