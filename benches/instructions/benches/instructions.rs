//! Instructions on a host, counted by valgrind: the gate against slow creep. `.ci/instructions`
//! holds them against `counts.txt`.
#![allow(missing_docs, unused_qualifications, reason = "what the macros make")]

use gungraun::{library_benchmark, library_benchmark_group, main};
use std::hint::black_box;
use tidevane::mechanics::{Fit, FitSums};
use tidevane::monitor::{Monitor, Report};
use tidevane::signal::{Gate, GateState, Reading, Sample};
use tidevane_instructions::{learned, sums};
use tidevane_support::leaky::recording;

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
        let at = tidevane::quantity::Instant::from_us(s.tick.to_us().into());
        let reading = Reading { flow: s.flow, pressure: s.pressure };
        let _ = black_box(gate.step(&mut state, at, black_box(reading)));
    }
    samples
}

#[library_benchmark]
#[bench::one_breath(sums())]
fn solve(sums: FitSums) -> FitSums {
    let _ = black_box(Fit::default().solve(black_box(&sums)));
    sums
}

library_benchmark_group!(name = counted, benchmarks = [whole_monitor, gate, solve]);
main!(library_benchmark_groups = counted);
