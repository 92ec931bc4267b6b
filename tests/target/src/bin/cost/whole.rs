//! The whole monitor: instructions of a push, and how deep its stack goes.

use crate::{say, say_tenths};
use core::hint::black_box;
use tidevane::monitor::{Monitor, Report};
use tidevane::quantity::{Moment, Tick};
use tidevane::signal::{Reading, Sample};
use tidevane_target::board::clock::{Clock, Meter};
use tidevane_target::board::stack;
use tidevane_target::item::Item;
use tidevane_target::settings::{changed, settings};

/// One push in a function of its own, so that it can be measured and its calls be walked. Whether it
/// closed a breath.
#[unsafe(no_mangle)]
#[inline(never)]
fn measured_push(monitor: &mut Monitor, sample: Sample, report: &mut Report) -> bool {
    monitor.push_into(sample, report);
    black_box(&*report).breath.is_some()
}

/// A sample as the hardware gives it.
fn ticked(at: Moment, reading: Reading) -> Sample {
    let tick = Tick::from_us((at.to_us() & 0xffff_ffff) as u32);
    Sample { tick, flow: reading.flow, pressure: reading.pressure }
}

/// What is no sample.
fn other(monitor: &mut Monitor, item: Item) -> Option<()> {
    if let Item::Machine(at, set) = item {
        let settings = changed(monitor.settings(), &set).ok()?;
        black_box(monitor.settings_changed(at, settings));
    } else {
        let _ = monitor.lost();
    }
    Some(())
}

#[inline(never)]
pub(crate) fn measure(clock: &Clock, items: impl Iterator<Item = Item>) -> Option<()> {
    let mut monitor = Monitor::new(settings().ok()?);
    let mut report = Report::default();
    let (mut every, mut plain, mut closing) =
        (Meter::default(), Meter::default(), Meter::default());
    for item in items {
        let Item::Sample(at, reading) = item else {
            other(&mut monitor, item)?;
            continue;
        };
        let sample = ticked(at, reading);
        let (closed, cost) = clock.count(|| measured_push(&mut monitor, sample, &mut report));
        every.add(cost);
        if closed { closing.add(cost) } else { plain.add(cost) }
    }
    say("samples", u64::from(every.calls));
    say("breaths", u64::from(closing.calls));
    say_tenths("push mean", every.tenths());
    say("push worst without a breath", u64::from(plain.worst));
    say("push worst", u64::from(every.worst));
    say_tenths("push closing mean", closing.tenths());
    say("push closing worst", u64::from(closing.worst));
    Some(())
}

#[inline(never)]
pub(crate) fn depth(items: impl Iterator<Item = Item>) -> Option<()> {
    let mut monitor = Monitor::new(settings().ok()?);
    let mut report = Report::default();
    let mut deepest = 0;
    for item in items {
        let Item::Sample(at, reading) = item else {
            other(&mut monitor, item)?;
            continue;
        };
        let sample = ticked(at, reading);
        let (_, depth) = stack::depth(|| measured_push(&mut monitor, sample, &mut report));
        deepest = deepest.max(depth);
    }
    say("stack painted", deepest as u64);
    Some(())
}
