//! Samples a second on a host: the whole monitor first, then its blocks and the `f64` twin.
//!
//! Prints the monitor against its bar, and over lengths from a minute to thirty days the line that
//! fits best. `cargo bench --bench monitor` for all, `-- --test` to see that it runs.
#![allow(missing_docs, reason = "what the macros make")]

mod twin;

use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use std::hint::black_box;
use std::time::{Duration, Instant};
use tidevane::breath::{Segmenter, SegmenterState, Totals};
use tidevane::leak::{LeakPath, LeakPathState};
use tidevane::mechanics::FitSums;
use tidevane::monitor::{Monitor, Report};
use tidevane::quantity::{Flow, Tick, Volume};
use tidevane::signal::{Clock, Gate, GateOutcome, GateState, Interval, Reading, Sample};
use tidevane::volume::{Limiter, LimiterState};
use tidevane_support::leaky::{recording, settings};
use twin::Twin;

/// Samples a second that the whole monitor should reach on one core.
const BAR: f64 = 40e6;

/// Pushes all into one report, as a caller in a hurry does; how many breaths were closed.
fn pushed(monitor: &mut Monitor, samples: impl Iterator<Item = Sample>) -> usize {
    let mut report = Report::default();
    let closes = |sample| {
        monitor.push_into(sample, &mut report);
        report.breath.is_some()
    };
    samples.map(closes).filter(|closed| *closed).count()
}

/// As [`pushed`], eight samples at a time.
fn pushed_in_blocks(monitor: &mut Monitor, samples: &[Sample]) -> usize {
    let mut report = Report::default();
    let mut closed = 0;
    for mut block in samples.chunks(8) {
        while !block.is_empty() {
            let taken = monitor.push_block(block, &mut report);
            closed += usize::from(report.breath.is_some());
            block = &block[taken..];
        }
    }
    closed
}

fn doubles(samples: &[Sample]) -> Vec<twin::Sample> {
    let float = |bits: i32| f64::from(bits) / 65_536.0;
    let one = |s: &Sample| twin::Sample {
        t: f64::from(s.tick.to_us()) / 1e6,
        flow: float(s.flow.to_bits()),
        pressure: float(s.pressure.to_bits()),
    };
    samples.iter().map(one).collect()
}

fn twin_pushed(twin: &mut Twin, samples: &[twin::Sample]) -> usize {
    let closed = samples.iter().filter_map(|s| twin.push(*s));
    closed.map(black_box).count()
}

/// The intervals that the gate lets through.
fn intervals(samples: &[Sample]) -> Vec<Interval> {
    let (gate, mut state, mut clock) = (Gate::default(), GateState::default(), Clock::new());
    let one = |s: &Sample| {
        let reading = Reading { flow: s.flow, pressure: s.pressure };
        match gate.step(&mut state, clock.unwrap_tick(s.tick), reading) {
            GateOutcome::Step(interval) => Some(interval),
            _ => None,
        }
    };
    samples.iter().filter_map(one).collect()
}

fn monitor(c: &mut Criterion) {
    let samples = recording(200, 600);
    let (doubles, intervals) = (doubles(&samples), intervals(&samples));
    let found = pushed(&mut Monitor::new(settings()), samples.iter().copied());
    let by_twin = twin_pushed(&mut Twin::default(), &doubles);
    assert!(found.abs_diff(by_twin) * 20 <= found, "{found} breaths, and {by_twin} by the twin");
    let mut group = c.benchmark_group("monitor");
    group.throughput(Throughput::Elements(samples.len() as u64));
    group.bench_function("push_block", |b| {
        b.iter_batched_ref(
            || Monitor::new(settings()),
            |monitor| pushed_in_blocks(monitor, black_box(&samples)),
            BatchSize::LargeInput,
        );
    });
    group.bench_function("push", |b| {
        b.iter_batched_ref(
            || Monitor::new(settings()),
            |monitor| pushed(monitor, black_box(&samples).iter().copied()),
            BatchSize::LargeInput,
        );
    });
    group.bench_function("twin in f64", |b| {
        b.iter_batched_ref(
            Twin::default,
            |twin| twin_pushed(twin, black_box(&doubles)),
            BatchSize::LargeInput,
        );
    });
    group.bench_function("clock and gate", |b| {
        b.iter(|| self::intervals(black_box(&samples)).len());
    });
    group.bench_function("leak correction", |b| {
        let (path, state) = (LeakPath::default(), LeakPathState::default());
        let reading = |s: &Sample| Reading { flow: s.flow, pressure: s.pressure };
        let readings: Vec<_> = samples.iter().map(reading).collect();
        b.iter(|| {
            let one = |s: &Reading| path.correct(&state, *s).value.lung.to_bits() & 1;
            black_box(&readings).iter().map(one).fold(0_i32, i32::wrapping_add)
        });
    });
    group.bench_function("segmentation", |b| {
        let segment = Segmenter::default();
        b.iter(|| {
            let mut state = SegmenterState::default();
            segment.start(&mut state, intervals[0].start(), &intervals[0].from);
            let one = |s: &&Interval| segment.step(&mut state, s).is_some();
            black_box(&intervals).iter().filter(one).count()
        });
    });
    group.bench_function("sums of a fit", |b| {
        let mut totals = Totals::default();
        let with_totals = |s: &Interval| {
            totals.add(s);
            (*s, totals)
        };
        let intervals: Vec<_> = intervals.iter().map(with_totals).collect();
        b.iter(|| {
            let mut sums = FitSums::default();
            for (i, (interval, totals)) in black_box(&intervals).iter().enumerate() {
                if i.is_multiple_of(300) {
                    sums = FitSums::default();
                }
                sums.add(interval, totals);
            }
            sums.samples()
        });
    });
    group.bench_function("volume limiter", |b| {
        let limiter =
            Limiter::new(Volume::from_int(1_000), tidevane::quantity::Duration::from_millis(20))
                .unwrap();
        b.iter(|| {
            let mut state = LimiterState::default();
            limiter.begin(&mut state, Volume::ZERO);
            for s in black_box(&intervals) {
                let _ = limiter.step(&mut state, s.span, s.from.flow, s.to.flow.min(Flow::ZERO));
            }
            state
        });
    });
    group.finish();
}

/// The hour again and again, its ticks carried on.
fn repeated(monitor: &mut Monitor, hour: &[Sample], hours: u32) -> usize {
    let length_us = 3_600_000_000_u32;
    (0..hours)
        .map(|n| {
            let from = length_us.wrapping_mul(n);
            let later = |s: &Sample| Sample {
                tick: Tick::from_us(s.tick.to_us().wrapping_add(from)),
                ..*s
            };
            pushed(monitor, hour.iter().map(later))
        })
        .sum()
}

/// Replays a day at 200 Hz, and a minute to thirty days at 100 Hz with the line that fits best.
fn lengths(c: &mut Criterion) {
    if std::env::args().any(|arg| arg == "--test" || arg == "--list") {
        return;
    }
    let timed = |samples: &[Sample], hours: u32| {
        let mut monitor = Monitor::new(settings());
        let start = Instant::now();
        black_box(repeated(&mut monitor, samples, hours));
        start.elapsed().as_secs_f64()
    };
    let mut hour = recording(200, 3_600);
    let day = timed(&hour, 24);
    let rate = hour.len() as f64 * 24.0 / day;
    println!("a day at 200 Hz: {day:.3} s, {:.1} million samples/s", rate / 1e6);
    let reached = if rate >= BAR { "reached" } else { "missed" };
    println!("bar of {:.0} million samples/s: {reached}", BAR / 1e6);
    hour = recording(100, 3_600);
    let minute = &hour[..6_000];
    let mut points = vec![(6_000.0, timed(minute, 1))];
    for hours in [1, 6, 24, 24 * 7, 24 * 30] {
        points.push((hour.len() as f64 * f64::from(hours), timed(&hour, hours)));
    }
    let n = points.len() as f64;
    let (x, y) = points.iter().fold((0.0, 0.0), |(x, y), p| (x + p.0 / n, y + p.1 / n));
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for (samples, seconds) in &points {
        let (dx, dy) = (samples - x, seconds - y);
        (xx, xy, yy) = (xx + dx * dx, xy + dx * dy, yy + dy * dy);
        println!(
            "{samples:>12.0} samples {seconds:>9.4} s {:>7.1} ns each",
            seconds / samples * 1e9
        );
    }
    let (slope, fit) = (xy / xx, xy * xy / (xx * yy));
    println!("line: {:.2} ns a sample, R² {fit:.6}", slope * 1e9);
    let _ = c;
}

criterion_group! {
    name = benches;
    config = Criterion::default()
        .warm_up_time(Duration::from_millis(500))
        .measurement_time(Duration::from_secs(3))
        .sample_size(20);
    targets = monitor, lengths
}
criterion_main!(benches);
