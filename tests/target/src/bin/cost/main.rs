//! Counts what the monitor costs on the board, over a recording read from the host: instructions
//! of a push, of each block alone and of twins in floating point; stack; sizes.
//!
//! Arguments: the path of a recording; the largest number of samples; the path of one that leads through
//! what a sample can cost. Writes one `figure` a line.
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

#[entry]
fn main() -> ! {
    exit(measure().is_some())
}

fn measure() -> Option<()> {
    let arguments = Arguments::read();
    let (path, samples) = (arguments.word(1)?, arguments.number(2)?);
    let paths = || File::open(arguments.word(3)?, u32::MAX);
    let clock = Clock::start(cortex_m::Peripherals::take()?.SYST);
    let open = || File::open(path, samples);
    sizes::say_all();
    whole::measure(&clock, open()?, paths()?)?;
    whole::measure_blocks(&clock, open()?)?;
    whole::depth(open()?.chain(paths()?))?;
    let core = blocks::measure(&clock, open()?)?;
    twins::measure::<f32>(&clock, open()?, "f32", core);
    twins::measure::<f64>(&clock, open()?, "f64", core);
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
