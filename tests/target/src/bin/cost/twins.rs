//! The same core in floating point, on the same board and the same samples.

use crate::{say_meter, say_tenths};
use core::fmt::Write;
use core::hint::black_box;
use tidevane_target::board::clock::{Clock, Meter};
use tidevane_target::board::host::Out;
use tidevane_target::item::Item;
use tidevane_target::twin::{Real, Twin};

/// `core`: instructions of the fixed-point core in tenths a sample, to hold against.
#[inline(never)]
pub(crate) fn measure<R: Real>(
    clock: &Clock,
    items: impl Iterator<Item = Item>,
    name: &str,
    core: u64,
) {
    let mut twin = Twin::<R>::default();
    let mut every = Meter::default();
    let (mut last, mut breaths) = (0, 0_u64);
    for item in items {
        let Item::Sample(at, reading) = item else { continue };
        let us = (at.to_us() - last) as u32;
        last = at.to_us();
        let (flow, pressure) = (reading.flow.to_bits(), reading.pressure.to_bits());
        let (breath, cost) = clock.count(|| twin.push(us, flow, pressure));
        breaths += u64::from(black_box(breath).is_some());
        every.add(cost);
    }
    assert!(breaths > 0, "the twin finds no breath");
    say_meter(name, &every);
    say_tenths(name, every.tenths());
    // How many times the fixed-point core's instructions, in hundredths.
    let times = every.tenths() * 100 / core.max(1);
    let _ = writeln!(Out, "figure {name} over core {}.{:02}", times / 100, times % 100);
}
