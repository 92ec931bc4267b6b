//! Instructions on a host, counted by valgrind: the gate against slow creep. `.ci/instructions`
//! holds them against `benches/instructions.txt`.
#![allow(missing_docs, unused_qualifications, reason = "what the macros make")]

#[path = "common/recording.rs"]
mod recording;

use gungraun::{library_benchmark, library_benchmark_group, main};
use recording::{recording, settings};
use std::hint::black_box;
use tidevane::breath::Totals;
use tidevane::mechanics::{Fit, FitSums};
use tidevane::monitor::{Monitor, Report};
use tidevane::quantity::Span;
use tidevane::signal::{End, Gate, GateState, Interval, Reading, Sample};

/// Ten seconds at 100 Hz after half a minute of learning.
fn learned() -> (Monitor, Vec<Sample>) {
    let mut samples = recording(100, 40);
    let last = samples.split_off(3_000);
    let mut monitor = Monitor::new(settings());
    for sample in samples {
        let _ = monitor.push(sample);
    }
    (monitor, last)
}

// The inputs come back, so that dropping them is not counted.
#[library_benchmark]
#[bench::thousand_samples(learned())]
fn whole_monitor((mut monitor, samples): (Monitor, Vec<Sample>)) -> (Monitor, Vec<Sample>) {
    let mut report = Report::default();
    for sample in &samples {
        monitor.push_into(black_box(*sample), black_box(&mut report));
    }
    (monitor, samples)
}

#[library_benchmark]
#[bench::thousand_samples(recording(100, 10))]
fn gate(samples: Vec<Sample>) -> Vec<Sample> {
    let (gate, mut state) = (Gate::default(), GateState::default());
    for s in &samples {
        let at = tidevane::quantity::Moment::from_us(s.tick.to_us().into());
        let reading = Reading { flow: s.flow, pressure: s.pressure };
        let _ = black_box(gate.step(&mut state, at, black_box(reading)));
    }
    samples
}

fn sums() -> FitSums {
    let (mut sums, mut totals) = (FitSums::default(), Totals::default());
    let end = |s: &Sample| End::from(Reading { flow: s.flow, pressure: s.pressure });
    for pair in recording(100, 2).windows(2) {
        let (span, from, to) = (Span::from_millis(10), end(&pair[0]), end(&pair[1]));
        let interval = Interval { span, from, to, ..Interval::default() };
        totals.add(&interval);
        sums.add(&interval, &totals);
    }
    sums
}

#[library_benchmark]
#[bench::one_breath(sums())]
fn solve(sums: FitSums) -> FitSums {
    let _ = black_box(Fit::default().solve(black_box(&sums)));
    sums
}

library_benchmark_group!(name = counted, benchmarks = [whole_monitor, gate, solve]);
main!(library_benchmark_groups = counted);
