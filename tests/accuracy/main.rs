//! One table of allowed error per published quantity, fed by seeded scenarios with exact truth.
//!
//! Algorithms are tuned on even seeds; the table and its bars are for odd ones. `ACCURACY=even`
//! prints the even ones, `ACCURACY=each` a line per scenario (with `--nocapture`), `ACCURACY=save` writes the table
//! where it is shown.

mod bars;
mod faulted;
mod table;

use faulted::Faulted;
use table::Table;
use tidevane::monitor::{BreathReport, Event, Monitor, Settings};
use tidevane::quantity::{Flow, Instant, Rate};
use tidevane::trigger::{Threshold, TriggerKind};
use tidevane_sim::{Simulator, Trigger, TruthBreath, TruthEffort};
use tidevane_support::scenario::{Drawn, drawn, elsewhere};
use tidevane_support::simulated::{at, reading};

/// How long a scenario runs, and from when on it counts.
const SECONDS: u64 = 75;
const SETTLED: Instant = Instant::from_us(10_000_000);
/// Seeds up to here: half of them tune, half report.
const SEEDS: u64 = 512;
/// Of the other physics.
const SEEDS_ELSEWHERE: u64 = 256;
/// With faults.
const FAULTED: u64 = 64;
/// Where the table is shown.
const PAGES: [&str; 2] = ["README.md", "src/guide/evidence.md"];

struct Run {
    drawn: Drawn,
    found: Vec<BreathReport>,
    events: Vec<Event>,
    truth: Vec<TruthBreath>,
    efforts: Vec<TruthEffort>,
}

/// A scenario heard through a sensor whose zero is off by so many mL/s at a time in µs.
fn run(drawn: Drawn, zero: impl Fn(u64) -> f64) -> Run {
    let mut simulator = Simulator::new(&drawn.scenario).unwrap();
    let threshold = Threshold::new(Flow::from_milli((drawn.threshold * 1e3) as i32).value).unwrap();
    let settings =
        Settings::builder().set_rate(Rate::from_milli((drawn.set_rate * 1e3) as i32).value);
    let settings = match drawn.scenario.machine.trigger {
        Trigger::Flow => settings.threshold(threshold),
        Trigger::Pressure(_) => settings.trigger(TriggerKind::Pressure),
    }
    .build()
    .unwrap();
    let mut monitor = Monitor::new(settings);
    let (mut found, mut events, mut truth, mut efforts) = (vec![], vec![], vec![], vec![]);
    loop {
        let output = simulator.step();
        if output.at_us > SECONDS * 1_000_000 {
            break;
        }
        truth.extend(output.breath);
        efforts.extend(output.effort);
        if let Some(s) = output.sample {
            let mut read = reading(&s);
            let off = Flow::from_milli((zero(output.at_us) * 1e3) as i32).value;
            read.flow = read.flow.saturating_add(off).value;
            let report = monitor.push_at(at(&output), read);
            found.extend(report.breath);
            events.extend(report.events);
        }
    }
    Run { drawn, found, events, truth, efforts }
}

/// The scenarios of one parity, each counted into a table.
fn counted(scenarios: fn(u64) -> Drawn, seeds: u64, mode: &str) -> Table {
    let parity = u64::from(!mode.contains("even"));
    let mut table = Table::default();
    for seed in (0..seeds).filter(|seed| seed % 2 == parity) {
        let line = table.take(&run(scenarios(seed), |_| 0.0));
        if mode.contains("each") {
            println!("{seed:>3} {line}");
        }
    }
    println!("{:<34}{:>10}{:>10}{:>10}", "quantity", "value", "bar", "allowed");
    for bar in &table.bars() {
        let verdict = if bar.holds(bar.bar) { "" } else { "  missed" };
        println!("{:<34}{:>10.4}{:>10}{:>10}{verdict}", bar.name, bar.value, bar.bar, bar.allowed);
    }
    println!(
        "biases: inspired {:.2} %, expired {:.2} %, lung {:.2} %; lung volume refused {} times; \
         flagged without a fault: {:?}",
        table.inspired.bias(),
        table.expired.bias(),
        table.lung.bias(),
        table.refused.0,
        table.flagged
    );
    println!(
        "compliance and resistance of {} passive breaths: rms {:.1} % and {:.1} %",
        table.compliance.errors.len(),
        table.compliance.relative(),
        table.resistance.relative()
    );
    println!("causes (true, found): {:?}", table.causes);
    table
}

#[test]
fn published_quantities_keep_their_bars() {
    let mode = std::env::var("ACCURACY").unwrap_or_default();
    let table = counted(drawn, SEEDS, &mode);
    let other = counted(elsewhere, SEEDS_ELSEWHERE, &mode);
    if mode.contains("even") {
        return;
    }
    table.hold_what_is_printed(&other);
    let rows = bars::rows(&table, &other);
    println!("{rows}");
    for bar in &table.bars() {
        assert!(bar.holds(bar.allowed), "{}: {:.4}", bar.name, bar.value);
    }
    // No bar of its own lets the other physics pass: what is printed is what was counted.
    show(&rows, bars::HEAD, &PAGES, &mode);
}

#[test]
fn what_faults_leave_is_what_is_printed() {
    let mode = std::env::var("ACCURACY").unwrap_or_default();
    let [here, there] = [drawn, elsewhere].map(|scenarios| Faulted::counted(scenarios, FAULTED));
    let rows = bars::beside(here.rows(), there.rows());
    println!("{rows}");
    show(&rows, bars::FAULTED_HEAD, &PAGES[1..], &mode);
}

/// What is printed on pages is what was counted.
fn show(rows: &str, head: &str, pages: &[&str], mode: &str) {
    for page in pages {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(page);
        let text = std::fs::read_to_string(&path).expect("a page");
        if mode.contains("save") {
            std::fs::write(&path, bars::with_rows(&text, head, rows)).expect("a page to write");
        } else {
            assert!(text.contains(rows), "{page} has another table: ACCURACY=save writes it");
        }
    }
}
