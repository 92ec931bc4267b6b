//! Runs the monitor on the board, over the demo shift as simulated here or over a recording read
//! from the host, in blocks of samples and with resets on the way,
//! and writes the records that the host writes of one by one.
//!
//! Arguments: `demo` or the path of a recording; the largest number of samples.
#![no_std]
#![no_main]

use cortex_m_rt::entry;
use tidevane::monitor::Settings;
use tidevane_target::board::host::{Arguments, File, Out, exit};
use tidevane_target::item::Demo;
use tidevane_target::records::{Course, run};
use tidevane_target::settings::settings;

#[entry]
fn main() -> ! {
    exit(check().is_some_and(|samples| samples > 0))
}

fn check() -> Option<u32> {
    let arguments = Arguments::read();
    let samples = arguments.number(2)?;
    let settings = settings().ok()?;
    match arguments.word(1)? {
        "demo" => demo(samples, settings),
        path => run(File::open(path, samples)?, settings, Course::BOARD, &mut Out).ok(),
    }
}

/// Not inlined, and the shift lent: it is large, and each copy would have its place on the stack.
#[inline(never)]
fn demo(samples: u32, settings: Settings) -> Option<u32> {
    let mut demo = Demo::new(samples).ok()?;
    run(&mut demo, settings, Course::BOARD, &mut Out).ok()
}
