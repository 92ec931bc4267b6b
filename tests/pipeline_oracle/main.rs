//! Every public number of the monitor against an independent count of the whole pipeline in `f64`.
//!
//! The oracle is written from what the documents say, not from the code. Where a breath begins, turns and
//! ends is found again by a segmentation of its own: within a sample for 99 of a hundred, for 96 where nearly
//! half and more leaks away. Which breaths carry a flag, and how far a quiet end reaches back are decisions
//! with hysteresis: those are given, and so are the borders to what is counted between them. `PIPELINE=10000`
//! runs so many scenarios (with `--release -- --nocapture` for the table).

mod fields;
mod floor;
mod leak;
mod level;
mod lung;
mod oracle;
mod quiet;
mod second_family;
mod set;
mod shape;
mod solve;
mod table;
mod track;
mod turns;
mod zero;

use level::Level;
use oracle::{Oracle, float};
use set::{DELAY, Known, Set};
use std::collections::VecDeque;
use table::Table;
use tidevane::breath::Breath;
use tidevane::monitor::{BreathReport, EventKind, Monitor, Report};
use tidevane::quantity::Instant;
use tidevane::signal::Reading;
use tidevane_sim::{Scenario, SensorSettings, Simulator, Windows};
use tidevane_support::scenario::drawn;
use tidevane_support::simulated;
use track::Point;
use turns::Turns;

/// How long a scenario lasts.
const SECONDS: u64 = 40;

/// The scenario of a seed with its settings: by turns with no tube, a known one, and one by weight, every seventh with a zero that is
/// off, every third with short losses of samples.
fn scenario(seed: u64) -> (Scenario, Set) {
    let drawn = drawn(seed + 100_000);
    let tube = [Known::Nothing, Known::Measured, Known::Weight][(seed % 3) as usize];
    let limit = 2.0 + (seed % 9) as f64;
    let set = Set::new(tube, drawn.threshold, drawn.set_rate, limit);
    let mut sensor: SensorSettings = drawn.scenario.sensor;
    if seed.is_multiple_of(7) {
        sensor.offset = 2.0 - (seed % 3) as f64 * 1.5;
    }
    if seed.is_multiple_of(3) {
        let from = 12.0 + (seed % 13) as f64;
        sensor.dropout = Windows::none().and(from, from + 0.05).and(from + 6.0, from + 6.25);
    }
    if seed.is_multiple_of(11) {
        sensor.dropout = Windows::none().and(20.0, 22.5);
    }
    (Scenario { sensor, ..drawn.scenario }, set)
}

fn run(seed: u64, table: &mut Table) {
    let (scenario, set) = scenario(seed);
    let mut simulator = Simulator::new(&scenario).unwrap();
    let mut readings = Vec::new();
    loop {
        let output = simulator.step();
        if output.at_us > SECONDS * 1_000_000 {
            break;
        }
        let reading = output.sample.map(|sample| simulated::reading(&sample));
        readings.extend(reading.map(|reading| (simulated::at(&output), reading)));
    }
    let second = counted(seed, set, &readings, table);
    found_again(&second, scenario.period_us.into(), table);
}

/// The second count of all that the monitor makes of some readings, held against it.
fn counted(seed: u64, set: Set, readings: &[(Instant, Reading)], table: &mut Table) -> Second {
    let mut monitor = Monitor::new(set.settings);
    let mut second = Second {
        seed,
        set,
        oracle: Oracle::default(),
        turns: Turns::default(),
        known: Vec::new(),
        waiting: VecDeque::new(),
        limit: None,
        drift: None,
    };
    for &(at, reading) in readings {
        let report = monitor.push_at(at, reading);
        let cut = report.events.iter().any(|e| matches!(e.what, EventKind::Gap { cut: true, .. }));
        let limit = report.events.iter().find_map(|event| match event.what {
            EventKind::LimitReached(moved) => Some(float(moved.value.to_bits())),
            _ => None,
        });
        second.waiting.push_back(Heard { at, reading, level: level::of(&monitor), cut, limit });
        second.take(&report, table);
    }
    loop {
        let report = monitor.finish();
        second.take(&report, table);
        if report.is_silent() {
            return second;
        }
    }
}

/// A reading, and what the monitor made of it.
struct Heard {
    at: Instant,
    reading: Reading,
    level: Level,
    /// Counting starts afresh with it.
    cut: bool,
    limit: Option<f64>,
}

/// A breath is told up to so many readings after its end was found, and learned of within two.
const TOLD_AFTER: usize = 9;
const LEARNED_AFTER: usize = 2;

/// The second count. It takes a reading when all that was found before it has been told.
struct Second {
    seed: u64,
    set: Set,
    oracle: Oracle,
    turns: Turns,
    /// Borders of trusted breaths.
    known: Vec<[f64; 3]>,
    waiting: VecDeque<Heard>,
    limit: Limit,
    drift: Option<f64>,
}

impl Second {
    /// Onset and turn of each trusted breath (µs), and whether they were found again within a sample.
    fn again(&self, sample: f64) -> impl Iterator<Item = (f64, bool)> {
        let found = move |place: usize, moment: f64| {
            let near = |own: &[f64; 3]| (own[place] - moment).abs() <= sample + 2.0;
            (moment, self.turns.closed.iter().any(near))
        };
        self.known.iter().flat_map(move |[onset, turned, _]| [found(0, *onset), found(1, *turned)])
    }

    fn hear(&mut self, heard: &Heard) {
        if heard.cut {
            self.oracle.restart(heard.at, heard.reading, &self.set);
            self.turns.restart();
            self.limit = None;
        } else {
            self.oracle.push(&self.set, heard.at, heard.reading);
            self.oracle.decide(heard.level);
            if let [.., last, point] = self.oracle.track.points.as_slice() {
                self.turns.push([last, point], &self.oracle.blocks);
            }
        }
        if let Some(moved) = heard.limit {
            self.limit = Some((self.oracle.track.points.len() - 1, moved));
        }
    }

    fn take(&mut self, report: &Report, table: &mut Table) {
        for event in &report.events {
            if let EventKind::ZeroDrift(offset) = event.what {
                self.drift = Some(float(offset.to_bits()));
            }
            table.event(&fields::of(&event.what));
        }
        let found = report.breath.map(|closed| closed.found);
        while let Some(heard) =
            self.waiting.pop_front_if(|heard| found.is_some_and(|found| heard.at <= found))
        {
            self.hear(&heard);
        }
        if let Some(closed) = &report.breath {
            self.close(closed, table);
        }
        while self.waiting.len() > TOLD_AFTER {
            let heard = self.waiting.pop_front().unwrap();
            self.hear(&heard);
        }
    }

    fn close(&mut self, closed: &BreathReport, table: &mut Table) {
        let Self { seed, set, oracle, turns, known, limit, .. } = self;
        borders(oracle, &closed.breath, table);
        let b = &closed.breath;
        if b.is_trusted() {
            known.push([b.onset, b.end_insp, b.end].map(|moment| moment.to_us() as f64));
        }
        turns.hear(turns::Told {
            is_trusted: b.is_trusted(),
            peak: float(b.peak_insp_flow.to_bits()),
            reach: b.quiet.map(|quiet| float(quiet.high.to_bits()) - float(quiet.flow.to_bits())),
        });
        reached(*seed, set, oracle, closed, limit, table);
        let learned = self.waiting.iter().take(LEARNED_AFTER).take_while(|heard| !heard.cut).last();
        let want = oracle.close(set, closed, learned.map(|heard| heard.level));
        table.compare(*seed, &fields::of(closed), &want);
        if let Some(offset) = self.drift.take()
            && !oracle.zero.is_unsure
        {
            // Which of the three shows the drift is a decision.
            let mut offsets = oracle.zero.offsets();
            offsets.sort_by(|a, b| (a - offset).abs().total_cmp(&(b - offset).abs()));
            let want = offsets[0];
            table.one(*seed, "event.ZeroDrift", offset, want);
        }
    }
}

/// The reading at which the limit of the breath under way was reached, and what is said to have
/// moved.
type Limit = Option<(usize, f64)>;

/// The volume limit inside a closed breath: what had moved, and that it was the first reading at
/// which that and what comes during the delay reached it.
fn reached(
    seed: u64,
    set: &Set,
    oracle: &Oracle,
    closed: &BreathReport,
    limit: &mut Limit,
    table: &mut Table,
) {
    let (onset, turn) = (closed.breath.onset.to_us(), closed.breath.end_insp.to_us());
    let points = &oracle.track.points;
    let Some((at, said)) = limit.take_if(|(at, _)| points[*at].us <= turn) else { return };
    // The turn was confirmed by the reading that closed the breath before, under the leak known
    // then; from there on flow by flow.
    let confirmed = oracle.fit_from;
    if confirmed == 0 || points[confirmed].us < onset || oracle.unsure.0 {
        return;
    }
    let begun = shape::stretch(oracle.track.between(onset, points[confirmed].us));
    let begun = begun.flow - oracle.before.past(begun);
    let step = |pair: &[Point]| {
        let gap = pair[1].gap;
        let mean = (pair[0].lung + pair[1].lung) / 2.0;
        if gap { 0.0 } else { mean * (pair[1].us - pair[0].us) as f64 / 1e6 }
    };
    let moved = |i: usize| begun + points[confirmed..=i].windows(2).map(step).sum::<f64>();
    table.one(seed, "event.LimitReached.value", said, moved(at));
    let with_delay = |i: usize| moved(i) + points[i].lung.max(0.0) * DELAY;
    assert!(with_delay(at) >= set.limit - 0.01, "{seed}: limited too soon");
    assert!(at == confirmed || with_delay(at - 1) < set.limit + 0.01, "{seed}: limited too late");
}

/// A looser rule for the borders of a trusted breath: gas went into the lung from its onset to its
/// turn and out of it from there to its end, by the leak known at its closing.
fn borders(oracle: &Oracle, b: &Breath, table: &mut Table) {
    if !b.is_trusted() || oracle.leak.is_guessing() {
        return;
    }
    let lung = |from: Instant, to: Instant| {
        let between = shape::stretch(oracle.track.between(from.to_us(), to.to_us()));
        between.flow - oracle.leak.past(between)
    };
    table.border(lung(b.onset, b.end_insp) > 0.0 && lung(b.end_insp, b.end) < 0.0);
}

/// The borders of trusted breaths against those that were found without them: within a sample.
fn found_again(second: &Second, sample: f64, table: &mut Table) {
    let leaks = second.oracle.window_share().is_some_and(|share| share > 0.45);
    second.again(sample).for_each(|(_, is_found)| table.found_again(is_found, leaks));
}

#[test]
fn every_public_number_agrees_with_a_second_count() {
    let scenarios: u64 = std::env::var("PIPELINE").map_or(150, |n| n.parse().unwrap());
    let mut table = Table::default();
    for seed in 0..scenarios {
        run(seed, &mut table);
    }
    table.judge(scenarios);
}
