//! What the monitor makes of each way in which sensor, circuit or clock can fail: the table of `src/guide/hazards.md`
//! is what is measured here. `FAULTS=save` writes it.

use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;
use tidevane::alarm::{Change, SensorAlarm};
use tidevane::leak::LungVolume;
use tidevane::monitor::{BreathReport, EventKind, Monitor, Report, Settings};
use tidevane::quantity::{Duration, Flow, Instant, Mass, Pressure};
use tidevane::signal::Reading;
use tidevane::trigger::{Cause, Threshold};
use tidevane_sim::{LeakSettings, Scenario, Schedule, Simulator};
use tidevane_support::simulated;

/// From when on it fails, µs.
const FROM: u64 = 60_000_000;
const UNTIL: u64 = 150_000_000;

/// What comes in where a reading would.
enum Input {
    Reading(u64, Reading),
    Lost,
    /// Nothing: a timer alone.
    Nothing,
}

/// One way to fail: its words, how long it lasts in µs, what becomes of a reading so long after its beginning, and the
/// test that has more of it.
struct Fault {
    says: &'static str,
    lasts: u64,
    turns: fn(u64, u64, Reading) -> Input,
    test: (&'static str, &'static str),
}

fn flow(reading: Reading, ml_s: i16) -> Reading {
    Reading { flow: Flow::from_int(ml_s), ..reading }
}

fn pressure(reading: Reading, cmh2o: i16) -> Reading {
    Reading { pressure: Pressure::from_int(cmh2o), ..reading }
}

/// A number up to 255 that looks drawn.
fn drawn(us: u64) -> i16 {
    (us.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 56) as i16
}

const FAULTS: [Fault; 17] = [
    Fault {
        says: "30 samples lost",
        lasts: 300_000,
        turns: |_, _, _| Input::Lost,
        test: ("faults", "dropouts_flag_what_they_touch"),
    },
    Fault {
        says: "every sample lost for 15 s",
        lasts: 15_000_000,
        turns: |_, _, _| Input::Lost,
        test: ("blind", "a_sensor_that_says_nothing_usable_rings_and_goes_on_ringing"),
    },
    Fault {
        says: "no sample for 15 s, a timer alone",
        lasts: 15_000_000,
        turns: |_, _, _| Input::Nothing,
        test: ("blind", "a_sensor_that_says_nothing_usable_rings_and_goes_on_ringing"),
    },
    Fault {
        says: "both readings stand still for 5 s",
        lasts: 5_000_000,
        turns: |_, at, reading| Input::Reading(at, pressure(flow(reading, 3), 6)),
        test: ("faults", "frozen_readings_flag_what_they_touch"),
    },
    Fault {
        says: "the pressure stands still for 30 s while the infant breathes",
        lasts: 30_000_000,
        turns: |_, at, reading| Input::Reading(at, pressure(reading, 6)),
        test: (
            "blind",
            "a_pressure_that_stands_still_while_flow_goes_on_rings_and_is_believed_in_nothing",
        ),
    },
    Fault {
        says: "flow beyond the sensor's range for 5 s",
        lasts: 5_000_000,
        turns: |_, at, reading| Input::Reading(at, flow(reading, 6_000)),
        test: ("blind", "a_sensor_that_says_nothing_usable_rings_and_goes_on_ringing"),
    },
    Fault {
        says: "pressure beyond the sensor's range for 5 s",
        lasts: 5_000_000,
        turns: |_, at, reading| Input::Reading(at, pressure(reading, 300)),
        test: ("blind", "a_sensor_that_says_nothing_usable_rings_and_goes_on_ringing"),
    },
    Fault {
        says: "flow clipped at 25 mL/s for 10 s",
        lasts: 10_000_000,
        turns: |_, at, reading| {
            let (low, high) = (Flow::from_int(-25), Flow::from_int(25));
            Input::Reading(at, Reading { flow: reading.flow.clamp(low, high), ..reading })
        },
        test: ("faults", "clipped_flow_is_flagged_and_unclipped_is_not"),
    },
    Fault {
        says: "noise of 16 mL/s for 10 s",
        lasts: 10_000_000,
        turns: |_, at, reading| {
            let more = Flow::from_int(drawn(at) / 8 - 16);
            Input::Reading(at, Reading { flow: reading.flow.saturating_add(more).value, ..reading })
        },
        test: ("faults", "water_in_the_line_is_noise"),
    },
    Fault {
        says: "each sample sent twice for 10 s",
        lasts: 10_000_000,
        turns: |since, at, reading| {
            // The one before, every other time.
            let again = if (since / 10_000).is_multiple_of(2) { 0 } else { 10_000 };
            Input::Reading(at - again, reading)
        },
        test: ("blind", "a_block_that_is_sent_again_counts_no_breath_twice"),
    },
    Fault {
        says: "the clock set back by 50 s",
        lasts: UNTIL,
        turns: |_, at, reading| Input::Reading(at - 50_000_000, reading),
        test: ("blind", "a_clock_set_back_silences_nothing"),
    },
    Fault {
        says: "the clock set ahead by an hour",
        lasts: UNTIL,
        turns: |_, at, reading| Input::Reading(at + 3_600_000_000, reading),
        test: ("blind", "stray_times_far_ahead_ring_nothing"),
    },
    Fault {
        says: "the zero of the flow off by 6 mL/s from one moment on",
        lasts: UNTIL,
        turns: |_, at, reading| {
            let off = Flow::from_int(6);
            Input::Reading(at, Reading { flow: reading.flow.saturating_add(off).value, ..reading })
        },
        test: ("faults", "a_drifting_zero_is_told_from_a_leak"),
    },
    Fault {
        says: "the circuit open: 70 mL/s at 0.5 cmH2O for 10 s",
        lasts: 10_000_000,
        turns: |_, at, _| {
            let wobble = Flow::from_bits(i32::from(drawn(at)) << 8);
            let flow = Flow::from_int(70).saturating_add(wobble).value;
            let off = Pressure::from_bits(32_768 + (i32::from(drawn(at)) << 5));
            Input::Reading(at, Reading { flow, pressure: off })
        },
        test: ("open_circuit", "told_within_three_seconds_and_found_again_within_five"),
    },
    Fault {
        says: "nobody breathes and nothing inflates for 30 s",
        lasts: 30_000_000,
        turns: |_, at, _| {
            let noise = |bits: u32| i32::from(drawn(at)) << bits;
            let flow = Flow::from_bits(65_536 + noise(7));
            let still = Pressure::from_bits(5 * 65_536 + noise(5));
            Input::Reading(at, Reading { flow, pressure: still })
        },
        test: ("apnoea", "a_latching_apnoea_ends_when_it_was_seen_and_tells_the_whole_pause"),
    },
    Fault {
        says: "flow in L/min, taken for mL/s",
        lasts: UNTIL,
        turns: |_, at, reading| {
            let bits = i64::from(reading.flow.to_bits()) * 6 / 100;
            let flow = Flow::from_bits(i32::try_from(bits).unwrap());
            Input::Reading(at, Reading { flow, ..reading })
        },
        test: ("implausible", "l_per_min_read_as_ml_per_s_is_no_breath_and_rings"),
    },
    Fault {
        says: "the flow sensor turned round",
        lasts: UNTIL,
        turns: |_, at, reading| {
            let flow = Flow::ZERO.saturating_sub(reading.flow).value;
            Input::Reading(at, Reading { flow, ..reading })
        },
        test: ("implausible", "of_numbers_that_cannot_be_no_verdict_is_made"),
    },
];

/// All that was told since the fault began, with the µs since then.
#[derive(Default)]
struct Told {
    events: Vec<(u64, EventKind)>,
    breaths: Vec<(u64, BreathReport)>,
}

impl Told {
    fn hear(&mut self, since: Option<u64>, report: &Report) {
        let Some(since) = since else { return };
        self.events.extend(report.events.iter().map(|event| (since, event.what)));
        self.breaths.extend(report.breath.map(|breath| (since, breath)));
    }
}

fn run(fault: &Fault) -> Told {
    let leak = LeakSettings { size: Schedule::constant(0.3), ..LeakSettings::default() };
    let mut simulator = Simulator::new(&Scenario { leak, ..Scenario::default() }).unwrap();
    let threshold = Threshold::new(Flow::from_int(4)).unwrap();
    let weight = Mass::from_grams(1_000).unwrap();
    let mut monitor =
        Monitor::new(Settings::builder().threshold(threshold).weight(weight).build().unwrap());
    let mut told = Told::default();
    loop {
        let output = simulator.step();
        let us = output.at_us;
        if us > UNTIL {
            return told;
        }
        let Some(sample) = output.sample else { continue };
        let (reading, since) = (simulated::reading(&sample), us.checked_sub(FROM));
        let fails = since.filter(|since| *since < fault.lasts);
        let input =
            fails.map_or(Input::Reading(us, reading), |since| (fault.turns)(since, us, reading));
        match input {
            Input::Reading(at, reading) => {
                told.hear(since, &monitor.push_at(Instant::from_us(at), reading));
            }
            Input::Lost => told.hear(since, &monitor.lost()),
            Input::Nothing if us.is_multiple_of(100_000) => {
                told.hear(since, &monitor.tick_at(Instant::from_us(us)));
            }
            Input::Nothing => {}
        }
    }
}

fn seconds(us: u64) -> String {
    format!("{:.1} s", us as f64 / 1e6)
}

/// First times of what has a name, the soonest first.
fn firsts(all: impl Iterator<Item = (u64, String)>) -> String {
    let mut first = BTreeMap::new();
    for (at, name) in all {
        first.entry(name).or_insert(at);
    }
    let mut rows: Vec<_> = first.into_iter().map(|(name, at)| (at, name)).collect();
    rows.sort();
    let rows: Vec<_> = rows.iter().map(|(at, name)| format!("{name} {}", seconds(*at))).collect();
    if rows.is_empty() { "none".into() } else { rows.join(", ") }
}

fn row(fault: &Fault) -> String {
    let told = run(fault);
    let of_fault = |kind: &EventKind| {
        use EventKind as E;
        matches!(
            kind,
            E::Gap { .. }
                | E::Stuck
                | E::Clipped
                | E::Refused(_)
                | E::ClockReset { .. }
                | E::ZeroDrift(_)
                | E::Implausible(_)
                | E::OpenCircuit
        )
    };
    // What it brings about later is not of it.
    let near = |at: u64| at <= fault.lasts.saturating_add(15_000_000);
    let events = told.events.iter().filter(|(at, kind)| of_fault(kind) && near(*at));
    let events = firsts(events.map(|(at, kind)| (*at, kind.name().to_owned())));
    let rung = told.events.iter().filter_map(|(at, kind)| match kind {
        EventKind::Alarm(alarm) if alarm.change == Change::On && near(*at) => {
            Some((*at, alarm.condition.to_string()))
        }
        _ => None,
    });
    let alarms = firsts(rung);
    let touched: Vec<_> =
        told.breaths.iter().filter(|(at, b)| !b.breath.is_trusted() && near(*at)).collect();
    let mut flags: Vec<&str> = touched.iter().flat_map(|(_, b)| b.breath.flags.names()).collect();
    flags.sort_unstable();
    flags.dedup();
    let unknown = |of: fn(&BreathReport) -> bool| touched.iter().all(|(_, b)| of(b));
    let lung = |b: &BreathReport| matches!(b.lung, LungVolume::Unknown(_));
    let cause =
        |b: &BreathReport| b.initiation.is_none_or(|i| matches!(i.cause, Cause::Unknown(_)));
    let withheld: Vec<&str> = match touched.len() {
        0 => vec!["nothing"],
        _ => [(unknown(lung), "volume in the lung"), (unknown(cause), "cause")]
            .into_iter()
            .filter_map(|(is, what)| is.then_some(what))
            .collect(),
    };
    // Of those that ended while it lasted and began with it, at most the first minute.
    let during = told.breaths.iter().filter(|(at, b)| {
        *at <= fault.lasts.min(60_000_000) && b.breath.end.since(b.breath.onset).to_us() < *at
    });
    let (all, unflagged) =
        during.fold((0, 0), |(all, n), (_, b)| (all + 1, n + usize::from(b.breath.is_trusted())));
    let back = if fault.lasts == UNTIL {
        let late: Vec<_> =
            told.breaths.iter().filter(|(at, _)| *at > UNTIL - FROM - 30_000_000).collect();
        let trusted = late.iter().filter(|(_, b)| b.breath.is_trusted()).count();
        format!("in its last 30 s {trusted} of {}", late.len())
    } else {
        let again = told.breaths.iter().find(|(at, b)| *at > fault.lasts && b.breath.is_trusted());
        again.map_or("not seen".into(), |(at, _)| seconds(at - fault.lasts))
    };
    let (file, test) = fault.test;
    let flags = if flags.is_empty() { "none".into() } else { flags.join(", ") };
    let withheld = if withheld.is_empty() { "learning".into() } else { withheld.join(", ") };
    format!(
        "| {} | {events} | {alarms} | {flags} | {unflagged} of {all} | {withheld} | {back} | `{file}::{test}` |",
        fault.says
    )
}

const HEAD: &str = "| fault | event, after | alarm, after | flags | not flagged meanwhile | not given of flagged breaths | trusted again, \
                    after its end | more of it |\n|---|---|---|---|---|---|---|---|\n";

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn page() -> PathBuf {
    root().join("src/guide/hazards.md")
}

/// The words are written into the table, and nothing of what is measured tells whether they are true.
#[test]
fn each_fault_does_what_its_words_say() {
    /// Flow and pressure, within how much, and how many seconds it is moved by.
    type Becomes = (f64, f64, f64, i64);
    // A reading of 100 mL/s at 20 cmH2O, 200 s after the clock began; what it becomes, and for how many seconds: 150 to
    // the end.
    const ALL: [(&str, Option<Becomes>, f64); 17] = [
        ("30 samples lost", None, 0.3), // of 100 a second
        ("every sample lost for 15 s", None, 15.0),
        ("no sample for 15 s, a timer alone", None, 15.0),
        ("both readings stand still for 5 s", Some((3.0, 6.0, 0.0, 0)), 5.0),
        (
            "the pressure stands still for 30 s while the infant breathes",
            Some((100.0, 6.0, 0.0, 0)),
            30.0,
        ),
        ("flow beyond the sensor's range for 5 s", Some((6_000.0, 20.0, 0.0, 0)), 5.0),
        ("pressure beyond the sensor's range for 5 s", Some((100.0, 300.0, 0.0, 0)), 5.0),
        ("flow clipped at 25 mL/s for 10 s", Some((25.0, 20.0, 0.0, 0)), 10.0),
        ("noise of 16 mL/s for 10 s", Some((100.0, 20.0, 16.0, 0)), 10.0),
        ("each sample sent twice for 10 s", Some((100.0, 20.0, 0.0, 0)), 10.0),
        ("the clock set back by 50 s", Some((100.0, 20.0, 0.0, -50)), 150.0),
        ("the clock set ahead by an hour", Some((100.0, 20.0, 0.0, 3_600)), 150.0),
        (
            "the zero of the flow off by 6 mL/s from one moment on",
            Some((106.0, 20.0, 0.0, 0)),
            150.0,
        ),
        // Give or take a part of a mL/s and of a cmH2O.
        ("the circuit open: 70 mL/s at 0.5 cmH2O for 10 s", Some((70.0, 0.5, 1.0, 0)), 10.0),
        ("nobody breathes and nothing inflates for 30 s", Some((1.0, 5.0, 1.0, 0)), 30.0),
        ("flow in L/min, taken for mL/s", Some((6.0, 20.0, 0.001, 0)), 150.0), // 100 × 60 ÷ 1 000
        ("the flow sensor turned round", Some((-100.0, 20.0, 0.0, 0)), 150.0),
    ];
    let plain = Reading { flow: Flow::from_int(100), pressure: Pressure::from_int(20) };
    for (fault, (says, want, lasts)) in FAULTS.iter().zip(ALL) {
        assert_eq!((fault.says, fault.lasts as f64 / 1e6), (says, lasts));
        let got = match (fault.turns)(0, 200_000_000, plain) {
            Input::Reading(at, reading) => {
                let float = |bits: i32| f64::from(bits) / 65_536.0;
                let (flow, pressure) =
                    (float(reading.flow.to_bits()), float(reading.pressure.to_bits()));
                Some((flow, pressure, at as i64 / 1_000_000 - 200))
            }
            Input::Lost | Input::Nothing => None,
        };
        let near = match (got, want) {
            (Some((flow, pressure, by)), Some((q, p, within, s))) => {
                (flow - q).abs() <= within && (pressure - p).abs() <= within && by == s
            }
            (got, want) => got.is_none() && want.is_none(),
        };
        assert!(near, "{says}: {got:?}, not {want:?}");
    }
    // The one before, every other time.
    let twice = FAULTS.iter().find(|fault| fault.says.starts_with("each sample")).unwrap();
    let Input::Reading(at, _) = (twice.turns)(10_000, 200_010_000, plain) else {
        panic!("a reading")
    };
    assert_eq!(at, 200_000_000);
}

/// What the page tells of limits is what they are where nobody sets them.
#[test]
fn the_page_tells_the_limits_that_are() {
    let page = fs::read_to_string(page()).unwrap();
    let between = |from: &str, to: &str| {
        let (_, rest) = page.split_once(from).unwrap_or_else(|| panic!("nothing of {from:?}"));
        rest.split_once(to).map(|(text, _)| text.to_owned()).unwrap()
    };
    let (alarm, whole) = (SensorAlarm::default(), |span: Duration| span.to_us() / 1_000_000);
    let (fault, none) = (whole(alarm.fault()), whole(alarm.no_input()));
    let told = between("a sensor fault after ", " ring, from power-up on");
    assert_eq!(told, format!("{fault} s and no input after {none} s"));
    let targets = fs::read_dir(root().join("fuzz/fuzz_targets")).unwrap().count();
    assert_eq!((between("which ", "\nfuzz targets hold").as_str(), targets), ("fourteen", 14));
}

#[test]
fn every_fault_is_told_as_the_table_says() {
    let rows: String = FAULTS.iter().map(|fault| row(fault) + "\n").collect();
    let table = format!("{HEAD}{rows}");
    println!("{table}");
    for Fault { test: (file, test), .. } in &FAULTS {
        let text = fs::read_to_string(root().join(format!("tests/{file}.rs"))).unwrap();
        assert!(text.contains(&format!("fn {test}(")), "no test {file}::{test}");
    }
    let path = page();
    let page = fs::read_to_string(&path).unwrap();
    let (before, rest) = page.split_once("<!-- faults -->\n\n").expect("where the table stands");
    let (known, after) = rest.split_once("<!-- end of faults -->").expect("where it ends");
    if std::env::var("FAULTS").is_ok_and(|what| what == "save") {
        fs::write(
            &path,
            format!("{before}<!-- faults -->\n\n{table}\n<!-- end of faults -->{after}"),
        )
        .unwrap();
        return;
    }
    let known = known.trim_end();
    for (known, now) in known.lines().zip(table.lines()) {
        assert_eq!(now, known, "now, and what src/guide/hazards.md says; FAULTS=save writes it");
    }
    assert_eq!(known.lines().count(), table.lines().count());
}
