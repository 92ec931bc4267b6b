//! An alarm counts while it rings, not as it starts.

mod common;

use common::cli::replay_brief;
use common::recording::{Folder, HEADER, simulated, wave};
use common::top::{CALM, INFANT, said};
use std::fs;
use tidevane_sim::Scenario;

#[test]
fn an_alarm_that_never_ends_is_told_with_its_length_and_calms_nobody() {
    // Inflations to 15 cmH2O and more, for fifteen minutes.
    let folder = Folder::new();
    fs::write(folder.path("in.csv"), simulated(&Scenario::default(), 900)).unwrap();
    fs::write(folder.path("s.toml"), "[alarms]\npeak_high_cmH2O = 8\n").unwrap();
    let outcome = |args: &[&str]| {
        let args = [&["in.csv", "--events", "e.csv"], &CALM[..], args].concat();
        let outcome = replay_brief(folder.0.path(), &args);
        assert_eq!(outcome.code, 0, "{}", outcome.stderr);
        outcome.stdout.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let calm = outcome(&[]);
    assert!(calm.contains("Nothing measured asks") && calm.contains("no sign Which alarm level?"));
    let set = ["--settings", "s.toml"];
    let top = outcome(&set);
    let events = folder.read("e.csv");
    let on: f64 = events
        .lines()
        .find(|line| line.contains("alarm-on"))
        .and_then(|line| line.rsplit(',').next()?.parse().ok())
        .unwrap();
    assert!(!events.contains("alarm-off"), "{events}");
    // Up to the last sample at 900.00 s.
    let rang = format!(
        "peak pressure high once for {:.1} min (still at the end)",
        (900.0 - on / 1e6) / 60.0
    );
    assert!(top.contains(&rang), "{rang}: {top}");
    assert!(top.contains("Ringing at the end: peak pressure high."), "{top}");
    assert!(!top.contains("Nothing measured asks"), "{top}");
    assert!(!top.contains("no sign Which alarm level?"), "{top}");
    let all = outcome(&[&set[..], &["--full"]].concat());
    assert!(all.contains(&format!("These would have rung: {rang}.")), "{all}");
}

#[test]
fn an_alarm_that_began_before_a_step_back_was_asked_for_rang_through_it() {
    // Every breath of the demo reaches more than 3 cmH2O: the limit is passed from its first minute on.
    let folder = Folder::new();
    fs::write(folder.path("s.toml"), "[alarms]\npeak_high_cmH2O = 3\n").unwrap();
    let outcome = folder.run(&["--settings", "s.toml"]);
    assert_eq!(outcome.code, 0, "{}", outcome.stderr);
    let said = outcome.stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    let asked: Vec<_> = said.split("While a step back was asked for in step ").skip(1).collect();
    assert!(!asked.is_empty(), "{said}");
    for step in asked {
        let sentence = step.split(" rang.").next().unwrap();
        assert!(sentence.contains("peak pressure high since 0:0"), "{sentence}");
    }
}

#[test]
fn what_rings_often_is_told_with_its_sum() {
    // Two silences of 22 s: no input rings from the tenth second on, each time to 0.1 s after it.
    let text = HEADER.to_owned() + &wave(0, 60) + &wave(82, 60) + &wave(164, 60);
    let top = said(&text, &INFANT, &[]);
    assert!(top.contains("no input from the sensor twice for 24.2 s in all"), "{top}");
    assert!(!top.contains("still at the end") && !top.contains("Ringing at the end"), "{top}");
}
