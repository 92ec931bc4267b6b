//! What must follow for one recording from what the monitor said of another: no truth is needed.

use tidevane::monitor::{BreathReport, Monitor, Settings};
use tidevane::quantity::{Flow, Instant, Mass, Tick};
use tidevane::signal::{Reading, Sample};
use tidevane::trigger::Threshold;
use tidevane_sim::{Scenario, Simulator};
use tidevane_support::recordings::breaths;
use tidevane_support::scenario::{Drawn, drawn};
use tidevane_support::simulated;
use tidevane_support::units::float;

const SECONDS: u64 = 60;
/// Until then what is learned differs.
const LEARNED: u64 = 20_000_000;

/// A minute of a scenario, and its settings for an infant of 1 kg, or of so many.
fn recorded(drawn: &Drawn) -> Vec<(u64, Reading)> {
    let mut simulator = Simulator::new(&drawn.scenario).unwrap();
    let mut rows = Vec::new();
    loop {
        let output = simulator.step();
        if output.at_us > SECONDS * 1_000_000 {
            return rows;
        }
        rows.extend(output.sample.map(|sample| (output.at_us, simulated::reading(&sample))));
    }
}

fn settings(drawn: &Drawn, times: i32) -> Settings {
    let threshold = (drawn.threshold * 1e3).round() as i32 * times;
    let threshold = Threshold::new(Flow::from_milli(threshold).value).unwrap();
    let weight = Mass::from_grams(1_000 * times.unsigned_abs()).unwrap();
    Settings::builder().threshold(threshold).weight(weight).build().unwrap()
}

/// Pairs of trusted breaths of two lists whose onsets lie within 20 ms of each other; how many there are of the first
/// in all, behind what is learned.
fn pairs<'a>(
    one: &'a [BreathReport],
    other: &'a [BreathReport],
) -> (Vec<(&'a BreathReport, &'a BreathReport)>, usize) {
    let learned = one.iter().filter(|b| b.breath.is_trusted() && b.breath.onset.to_us() > LEARNED);
    let near = |b: &&BreathReport| {
        let onset = b.breath.onset.to_us();
        let near = other.iter().find(|o| o.breath.onset.to_us().abs_diff(onset) <= 20_000);
        near.filter(|o| o.breath.is_trusted())
    };
    let count = learned.clone().count();
    (learned.filter_map(|b| near(&b).map(|o| (b, o))).collect(), count)
}

/// How two lists of breaths agree: trusted breaths of the first, those that the second trusts too, and those of them
/// with much the same volume and the same kind.
#[derive(Debug, Default, Clone, Copy)]
struct Agreed {
    all: usize,
    both: usize,
    alike: usize,
}

impl Agreed {
    /// The second breathes `times` as much gas; volumes agree within a share of the first's.
    fn add(&mut self, one: &[BreathReport], other: &[BreathReport], times: f64, share: f64) {
        let (pairs, count) = pairs(one, other);
        self.all += count;
        self.both += pairs.len();
        let alike = |(a, b): &(&BreathReport, &BreathReport)| {
            let (one, other) = (inspired(a), inspired(b) / times);
            (other - one).abs() <= share * one.max(0.5) && a.breath.kind == b.breath.kind
        };
        self.alike += pairs.iter().filter(|pair| alike(pair)).count();
    }

    /// At least so many in a hundred are trusted by both; of those 99 are alike.
    fn hold(self, found: usize, text: &str) {
        let is_held = self.both * 100 >= self.all * found && self.alike * 100 >= self.both * 99;
        let share = |part: usize, whole: usize| 100.0 * part as f64 / whole.max(1) as f64;
        let (both, alike) = (share(self.both, self.all), share(self.alike, self.both));
        assert!(
            self.all > 0 && is_held,
            "{text}: of {} breaths {both:.1} % trusted by both, {found} % at least; of these {alike:.1} % alike, 99 % \
             at least",
            self.all
        );
    }
}

fn inspired(closed: &BreathReport) -> f64 {
    float(closed.breath.inspired.value.to_bits())
}

/// Each number of a breath that has no moment in it, and its moments from a beginning on.
fn of_breath(closed: &BreathReport, begun: u64) -> String {
    let b = &closed.breath;
    let from = |at: Instant| at.to_us().wrapping_sub(begun);
    format!(
        "{:?}",
        (
            [b.onset, b.end_insp, b.end, closed.found].map(from),
            (b.inspired, b.expired, b.kind, b.flags, b.peak, b.baseline),
            (closed.lung, closed.leak, closed.rate, closed.mechanics, closed.initiation),
        )
    )
}

#[test]
fn a_counter_that_wraps_changes_no_number() {
    for seed in 0..8 {
        let drawn = drawn(seed);
        let rows = recorded(&drawn);
        let told = |first: u32| {
            let mut monitor = Monitor::new(settings(&drawn, 1));
            let mut out = Vec::new();
            for &(us, Reading { flow, pressure }) in &rows {
                let tick = Tick::from_us(first.wrapping_add(u32::try_from(us).unwrap()));
                let report = monitor.push(Sample { tick, flow, pressure });
                out.extend(report.breath.map(|b| of_breath(&b, first.into())));
            }
            out
        };
        let plain = told(0);
        assert!(
            plain.len() > 10,
            "{}: {} breaths of a minute, more than 10",
            drawn.text,
            plain.len()
        );
        // Half a minute before the counter goes round.
        for (a, b) in plain.iter().zip(&told(u32::MAX - 30_000_000)) {
            assert_eq!(a, b, "{}: moments in us, from tick 0 and over the wrap", drawn.text);
        }
    }
}

#[test]
fn twice_the_infant_breathes_twice_the_gas() {
    let mut agreed = Agreed::default();
    for seed in 0..24 {
        let drawn = drawn(seed);
        let rows = recorded(&drawn);
        let twice = |&(us, reading): &(u64, Reading)| {
            (us, Reading { flow: reading.flow.saturating_add(reading.flow).value, ..reading })
        };
        let doubled: Vec<_> = rows.iter().map(twice).collect();
        let (one, two) =
            (breaths(settings(&drawn, 1), &rows), breaths(settings(&drawn, 2), &doubled));
        agreed.add(&one, &two, 2.0, 0.02);
    }
    // Ripple of 6 mL/s moves 0.8 mL: of one infant in 24 the monitor says that nobody breathes so fast.
    agreed.hold(90, "twice the flow");
}

#[test]
fn every_other_reading_tells_the_same_breaths() {
    let mut agreed = Agreed::default();
    for seed in 0..24 {
        let mut drawn = drawn(seed);
        drawn.scenario = Scenario { period_us: 4_000, ..drawn.scenario };
        let rows = recorded(&drawn);
        let half: Vec<_> = rows.iter().copied().step_by(2).collect();
        let (one, two) = (breaths(settings(&drawn, 1), &rows), breaths(settings(&drawn, 1), &half));
        agreed.add(&one, &two, 1.0, 0.03);
    }
    agreed.hold(90, "125 readings a second instead of 250");
}

#[test]
fn of_two_recordings_joined_each_tells_what_it_told_alone() {
    let mut agreed = Agreed::default();
    for seed in 0..12 {
        let drawn = drawn(seed);
        let (first, second) =
            (recorded(&drawn), recorded(&tidevane_support::scenario::drawn(seed + 100)));
        let begun = (SECONDS + 5) * 1_000_000;
        let later = second.iter().map(|(us, reading)| (us + begun, *reading));
        let joined: Vec<_> = first.iter().copied().chain(later).collect();
        let (alone, both) =
            (breaths(settings(&drawn, 1), &first), breaths(settings(&drawn, 1), &joined));
        // The last is cut by what ends the recording, and by silence.
        let told = alone.len() - 1;
        for (a, b) in alone[..told].iter().zip(&both) {
            assert_eq!(of_breath(a, 0), of_breath(b, 0), "{}: alone and joined", drawn.text);
        }
        // Five seconds belong to no breath: where counting starts afresh nothing goes over.
        let over =
            both.iter().find(|b| b.breath.onset.to_us() < begun && b.breath.end.to_us() > begun);
        let over = over.map(|b| (b.breath.onset.to_us(), b.breath.end.to_us()));
        assert!(over.is_none(), "{}: from and to, in us, over {begun} us: {over:?}", drawn.text);
        let alone = breaths(settings(&drawn, 1), &second);
        let moved: Vec<_> = alone
            .into_iter()
            .map(|mut closed| {
                closed.breath.onset = Instant::from_us(closed.breath.onset.to_us() + begun);
                closed
            })
            .filter(|closed| closed.breath.onset.to_us() > begun + LEARNED)
            .collect();
        agreed.add(&moved, &both, 1.0, 0.03);
    }
    // Another infant's is heard with what the first taught: of one in twelve the other leak is called a drift of the
    // zero to its end.
    agreed.hold(80, "behind another recording");
}
