//! The whole monitor: instructions of a push, and how deep its stack goes.

use crate::met::Met;
use crate::{say, say_tenths};
use core::fmt::Write;
use core::hint::black_box;
use tidevane::monitor::{Monitor, Report, Settings};
use tidevane::signal::Sample;
use tidevane_target::board::clock::{Clock, Meter};
use tidevane_target::board::host::Out;
use tidevane_target::board::stack;
use tidevane_target::item::Item;
use tidevane_target::records::{BLOCK, ticked};
use tidevane_target::settings::changed;

/// One push in a function of its own, so that it can be measured and its calls be walked. Whether it
/// told of a breath.
#[unsafe(no_mangle)]
#[inline(never)]
fn measured_push(monitor: &mut Monitor, sample: Sample, report: &mut Report) -> bool {
    monitor.push_into(sample, report);
    black_box(&*report).breath.is_some()
}

/// As [`measured_push`], a block; how many samples it took.
#[inline(never)]
fn measured_block(monitor: &mut Monitor, samples: &[Sample], report: &mut Report) -> usize {
    let taken = monitor.push_block(samples, report);
    black_box(&*report);
    taken
}

/// What is no sample.
fn other(monitor: &mut Monitor, item: Item, met: &mut Met) -> Option<()> {
    if let Item::Machine(at, set) = item {
        let settings = changed(monitor.settings(), &set).ok()?;
        met.take(&monitor.settings_changed(at, settings));
    } else {
        met.take(&monitor.lost());
    }
    Some(())
}

/// The sample that finds the end of a breath, and those with which it is worked out.
const CLOSING: usize = 9;

/// What pushes took.
#[derive(Default)]
struct Pushes {
    every: Meter,
    /// Those that find a breath's end, work it out and tell it: all together, and each in its order.
    breath: Meter,
    closing: [Meter; CLOSING],
}

/// The means of one recording; the worst of both, the second of which leads through every path.
#[inline(never)]
pub(crate) fn measure<I: Iterator<Item = Item>>(
    clock: &Clock,
    settings: &Settings,
    usual: I,
    paths: I,
) -> Option<()> {
    let mut met = Met::default();
    let first = pushes(clock, settings, usual, &mut met)?;
    let second = pushes(clock, settings, paths, &mut met)?;
    let worst = |of: fn(&Pushes) -> &Meter| of(&first).worst.max(of(&second).worst);
    say("samples", u64::from(first.every.calls));
    say("breaths", u64::from(first.breath.calls));
    say_tenths("push mean", first.every.tenths());
    say("push worst", u64::from(worst(|pushes| &pushes.every)));
    say_tenths("nine pushes mean", first.breath.tenths());
    for slice in 0..CLOSING {
        let of = |pushes: &Pushes| pushes.closing.get(slice).map_or(0, |meter| meter.worst);
        let worst = of(&first).max(of(&second));
        let _ = writeln!(Out, "figure push {slice} samples after a turn {worst}");
    }
    met.say();
    Some(())
}

/// The means of one recording.
pub(crate) fn measure_one(
    clock: &Clock,
    settings: &Settings,
    items: impl Iterator<Item = Item>,
) -> Option<()> {
    let pushes = pushes(clock, settings, items, &mut Met::default())?;
    say("breaths", u64::from(pushes.breath.calls));
    say_tenths("push mean", pushes.every.tenths());
    say_tenths("nine pushes mean", pushes.breath.tenths());
    say("push worst", u64::from(pushes.every.worst));
    Some(())
}

#[inline(never)]
fn pushes(
    clock: &Clock,
    settings: &Settings,
    items: impl Iterator<Item = Item>,
    met: &mut Met,
) -> Option<Pushes> {
    let mut monitor = Monitor::new(settings.clone());
    let mut report = Report::default();
    let mut pushes = Pushes::default();
    // The latest pushes, the last of them last.
    let mut latest = [0; CLOSING];
    for item in items {
        let Item::Sample(at, reading) = item else {
            other(&mut monitor, item, met)?;
            continue;
        };
        let sample = ticked(at, reading);
        let (told, cost) = clock.count(|| measured_push(&mut monitor, sample, &mut report));
        met.take(&report);
        pushes.every.add(cost);
        latest.rotate_left(1);
        latest[CLOSING - 1] = cost;
        if told {
            pushes.breath.add(latest.iter().sum());
            for (meter, cost) in pushes.closing.iter_mut().zip(latest) {
                meter.add(cost);
            }
        }
    }
    Some(pushes)
}

/// The mean of a sample that comes in a block.
#[inline(never)]
pub(crate) fn measure_blocks(
    clock: &Clock,
    settings: &Settings,
    items: impl Iterator<Item = Item>,
) -> Option<()> {
    let mut monitor = Monitor::new(settings.clone());
    let (mut report, mut met) = (Report::default(), Met::default());
    let (mut samples, mut instructions) = (0_u64, 0_u64);
    let mut block = heapless::Vec::<Sample, BLOCK>::new();
    let mut take = |monitor: &mut Monitor, block: &mut heapless::Vec<Sample, BLOCK>| {
        let mut rest = block.as_slice();
        while !rest.is_empty() {
            let (taken, cost) = clock.count(|| measured_block(monitor, rest, &mut report));
            samples += taken as u64;
            instructions += u64::from(cost);
            rest = rest.get(taken..).unwrap_or_default();
        }
        block.clear();
    };
    for item in items {
        match item {
            Item::Sample(at, reading) => {
                let _ = block.push(ticked(at, reading));
            }
            _ => {
                take(&mut monitor, &mut block);
                other(&mut monitor, item, &mut met)?;
            }
        }
        if block.is_full() {
            take(&mut monitor, &mut block);
        }
    }
    take(&mut monitor, &mut block);
    say_tenths("push_block mean", instructions * 10 / samples.max(1));
    Some(())
}

#[inline(never)]
pub(crate) fn depth(settings: &Settings, items: impl Iterator<Item = Item>) -> Option<()> {
    let mut met = Met::default();
    let mut monitor = Monitor::new(settings.clone());
    let mut report = Report::default();
    let mut deepest = 0;
    for item in items {
        let Item::Sample(at, reading) = item else {
            other(&mut monitor, item, &mut met)?;
            continue;
        };
        let sample = ticked(at, reading);
        let (_, depth) = stack::depth(|| measured_push(&mut monitor, sample, &mut report));
        deepest = deepest.max(depth);
    }
    say("stack painted", deepest as u64);
    Some(())
}
