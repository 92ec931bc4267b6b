//! Counts what the monitor costs on the board, over a recording read from the host: instructions
//! of a push, of each block alone and of twins in floating point; stack; sizes.
//!
//! Arguments: the path of a recording; the largest number of samples; the path of one that leads through
//! what a sample can cost; without it only what the first recording costs. Writes one `figure` a line.
#![no_std]
#![no_main]

mod blocks;
mod met;
mod sizes;
mod twins;
mod whole;

use core::fmt::Write;
use cortex_m_rt::entry;
use tidevane_target::board::clock::{Clock, Meter};
use tidevane_target::board::host::{Arguments, File, Out, exit};
use tidevane_target::settings::settings;

#[entry]
fn main() -> ! {
    exit(measure().is_some())
}

fn measure() -> Option<()> {
    let arguments = Arguments::read();
    let (path, samples) = (arguments.word(1)?, arguments.number(2)?);
    let clock = Clock::start(cortex_m::Peripherals::take()?.SYST);
    // First, and gone before a monitor stands on the stack: the smallest board has room for one of both.
    let settings = &settings().ok()?;
    let open = || File::open(path, samples);
    let Some(paths) = arguments.word(3) else {
        return whole::measure_one(&clock, settings, open()?);
    };
    let paths = || File::open(paths, u32::MAX);
    sizes::say_all();
    whole::measure(&clock, settings, open()?, paths()?)?;
    whole::measure_blocks(&clock, settings, open()?)?;
    whole::depth(settings, open()?.chain(paths()?))?;
    let core = blocks::measure(&clock, open()?)?;
    // Floating point in software is slow, and the same in each minute.
    let some = || File::open(path, samples / 4);
    twins::measure::<f32>(&clock, some()?, "f32", core);
    twins::measure::<f64>(&clock, some()?, "f64", core);
    Some(())
}

/// One figure.
fn say(name: &str, value: u64) {
    let _ = writeln!(Out, "figure {name} {value}");
}

/// One figure with a tenth.
fn say_tenths(name: &str, tenths: u64) {
    let _ = writeln!(Out, "figure {name} {}.{}", tenths / 10, tenths % 10);
}

fn say_meter(name: &str, meter: &Meter) {
    let (mean, worst) = (meter.tenths(), meter.worst);
    let _ = writeln!(Out, "block {name} {}.{} {worst} {}", mean / 10, mean % 10, meter.calls);
}
