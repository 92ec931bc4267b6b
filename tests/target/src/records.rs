//! Runs a monitor and writes down every bit of what it says.
//!
//! A breath is one line of raw bits; behind it stands a hash of all that the report holds, whatever
//! that is. The last line is a hash of all that the monitor remembers.

use crate::item::Item;
use crate::settings::changed;
use core::fmt::{self, Write};
use heapless::Vec;
use tidevane::monitor::snapshot::{read_into, write};
use tidevane::monitor::{Monitor, Report, Settings};
use tidevane::quantity::{Flow, Instant, Pressure, Record, Sink, Tick};
use tidevane::signal::{Reading, Sample};

/// At most so many samples in a block.
pub const BLOCK: usize = 8;

/// How samples come, which no record may show.
#[derive(Debug, Clone, Copy)]
pub struct Course {
    /// In blocks of so many.
    pub block: usize,
    /// The monitor is lost after each so many, and goes on from its snapshot; 0 for never.
    pub reset_after: u32,
}

impl Course {
    /// As the boards take them.
    pub const BOARD: Self = Self { block: BLOCK, reset_after: 2_003 };
    /// One by one, and never reset.
    pub const HOST: Self = Self { block: 1, reset_after: 0 };
}

/// Feeds all of it to a monitor and writes the records. The number of samples.
///
/// # Errors
/// What `out` says when it cannot be written.
#[inline(never)]
pub fn run(
    items: impl Iterator<Item = Item>,
    settings: Settings,
    course: Course,
    out: &mut impl Write,
) -> Result<u32, fmt::Error> {
    let mut monitor = Monitor::new(settings);
    let (mut samples, mut block) = (0_u32, Vec::<Sample, BLOCK>::new());
    for item in items {
        if let Item::Sample(at, reading) = item {
            samples += 1;
            // Not full: it is emptied then.
            let _ = block.push(ticked(at, reading));
            if block.len() >= course.block.min(BLOCK) {
                push(&mut monitor, &mut block, out)?;
            }
            if samples.checked_rem(course.reset_after) == Some(0) {
                push(&mut monitor, &mut block, out)?;
                reset(&mut monitor)?;
            }
        } else {
            push(&mut monitor, &mut block, out)?;
            take(&mut monitor, item, out)?;
        }
    }
    push(&mut monitor, &mut block, out)?;
    loop {
        let report = monitor.finish();
        if report.is_silent() {
            break;
        }
        record(&report, out)?;
    }
    let mut remembered = Fnv::default();
    monitor.save(&mut remembered);
    writeln!(out, "monitor {:016x} after {samples} samples", remembered.0)?;
    Ok(samples)
}

/// Keeps the monitor, lets it hear something else, and goes on from what was kept.
#[inline(never)]
fn reset(monitor: &mut Monitor) -> fmt::Result {
    let mut kept = [0; 4_096];
    write(monitor, &mut kept).map_err(|_| fmt::Error)?;
    mislead(monitor);
    read_into(monitor, &kept).map_err(|_| fmt::Error)
}

/// Four seconds of a square wave. Not inlined, as [`take`].
#[inline(never)]
fn mislead(monitor: &mut Monitor) {
    let mut report = Report::default();
    for n in 0..400 {
        let size = if n % 40 < 20 { 60 } else { -60 };
        let (flow, pressure) = (Flow::from_int(size), Pressure::from_int(10));
        monitor.push_into(Sample { tick: Tick::from_us(n * 10_000), flow, pressure }, &mut report);
    }
}

/// A sample as the hardware gives it.
#[must_use]
pub fn ticked(at: Instant, reading: Reading) -> Sample {
    let tick = Tick::from_us((at.to_us() & 0xffff_ffff) as u32);
    Sample { tick, flow: reading.flow, pressure: reading.pressure }
}

/// Not inlined, as [`take`].
#[inline(never)]
fn push(
    monitor: &mut Monitor,
    block: &mut Vec<Sample, BLOCK>,
    out: &mut impl Write,
) -> fmt::Result {
    let mut report = Report::default();
    let mut rest = block.as_slice();
    while !rest.is_empty() {
        let taken = monitor.push_block(rest, &mut report);
        record(&report, out)?;
        rest = rest.get(taken..).unwrap_or_default();
    }
    block.clear();
    Ok(())
}

/// What is no sample. Not inlined: each report has its own place on the stack.
#[inline(never)]
fn take(monitor: &mut Monitor, item: Item, out: &mut impl Write) -> fmt::Result {
    match item {
        Item::Sample(..) => Ok(()),
        Item::Lost => record(&monitor.lost(), out),
        Item::Machine(at, set) => {
            let settings = changed(monitor.settings(), &set).map_err(|_| fmt::Error)?;
            record(&monitor.settings_changed(at, settings), out)
        }
    }
}

/// One line for each event, and one for the breath.
#[inline(never)]
fn record(report: &Report, out: &mut impl Write) -> fmt::Result {
    for event in &report.events {
        writeln!(out, "event {:x} {} {:016x}", event.at.to_us(), event.what.name(), hash(event))?;
    }
    let Some(closed) = &report.breath else { return Ok(()) };
    let breath = &closed.breath;
    let bits = [
        breath.inspired.value.to_bits(),
        breath.expired.value.to_bits(),
        breath.peak.to_bits(),
        breath.baseline.to_bits(),
        closed.leak_window.share().map_or(0, |share| share.to_bits()),
    ];
    write!(out, "breath")?;
    for at in [breath.onset, breath.end_insp, breath.end] {
        write!(out, " {:x}", at.to_us())?;
    }
    for value in bits {
        write!(out, " {value:08x}")?;
    }
    writeln!(out, " {:016x}", hash(closed))
}

fn hash(of: &impl Record) -> u64 {
    let mut fnv = Fnv::default();
    of.save(&mut fnv);
    fnv.0
}

/// Fowler, Noll and Vo's hash (FNV-1a, 64 bits) of parts of a record: raw bits and codes.
struct Fnv(u64);

impl Default for Fnv {
    fn default() -> Self {
        Self(0xcbf2_9ce4_8422_2325)
    }
}

impl Sink for Fnv {
    fn number(&mut self, bits: i64, _: u8) {
        for byte in bits.to_le_bytes() {
            self.code(byte);
        }
    }

    fn code(&mut self, code: u8) {
        self.0 = (self.0 ^ u64::from(code)).wrapping_mul(0x0100_0000_01b3);
    }
}
