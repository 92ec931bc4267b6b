//! Writes what rings when sensor or clock fail, on the board.
#![no_std]
#![no_main]

use cortex_m_rt::entry;
use tidevane_target::board::host::{Out, exit};

#[entry]
fn main() -> ! {
    exit(tidevane_target::failures::run(&mut Out).is_ok())
}
