//! For how long nothing usable was heard is told beside how often, and much of it stands in the first line.

mod common;

use common::recording::{HEADER, simulated, wave};
use common::top::{CALM, INFANT, said};
use tidevane_sim::Scenario;

/// Samples without values, every 10 ms.
fn empty(from_s: u64, seconds: u64) -> String {
    (from_s * 100..(from_s + seconds) * 100).map(|n| format!("{},,\n", n * 10_000)).collect()
}

#[test]
fn a_long_silence_is_no_calm_night() {
    // From 299.99 s to 1200.00 s: 15 min of 25.
    let text = HEADER.to_owned() + &wave(0, 300) + &wave(1_200, 300);
    let top = said(&text, &INFANT, &[]);
    assert!(top.contains("sensor: nothing usable for 15 min in all, gaps once"), "{top}");
    assert!(
        top.contains("The check was blind for 15 min of 25 min: what happened then is not known. "),
        "{top}"
    );
    let all = said(&text, &INFANT, &["--full"]);
    assert!(
        all.contains("Nothing usable was heard for 15 min in all, 15 min at one stretch."),
        "{all}"
    );
}

#[test]
fn the_calm_first_line_goes() {
    let calm = "Nothing measured asks for a look first";
    let text = simulated(&Scenario::default(), 900);
    let top = said(&text, &CALM, &[]);
    assert!(top.contains(calm), "{top}");
    // The same later by 11 min from 4:00 on.
    let holed: String = text.lines().enumerate().fold(String::new(), |holed, (n, line)| {
        let (us, rest) = line.split_once(',').unwrap();
        match us.parse::<u64>() {
            Ok(us) if n > 24_000 => holed + &format!("{},{rest}\n", us + 660_000_000),
            _ => holed + line + "\n",
        }
    });
    let top = said(&holed, &CALM, &[]);
    assert!(!top.contains(calm) && top.contains("blind for 11 min of 26 min: "), "{top}");
}

#[test]
fn rows_without_values_are_a_silence_too() {
    let text = HEADER.to_owned() + &wave(0, 300) + &empty(300, 900) + &wave(1_200, 300);
    let top = said(&text, &INFANT, &[]);
    let told = "nothing usable for 15 min in all, gaps once, unreadable lines 90000 times";
    assert!(top.contains(told), "{top}");
}

#[test]
fn short_silences_add_up() {
    // Twenty seconds of every forty, nine times: 180 s of 380.
    let text = (0..10).map(|n| wave(n * 40, 20)).collect::<String>();
    let top = said(&(HEADER.to_owned() + &text), &INFANT, &[]);
    assert!(top.contains("nothing usable for 3 min in all, gaps 9 times"), "{top}");
    assert!(top.contains("blind for 3 min of 6.3 min, 20 s at one stretch"), "{top}");
}

#[test]
fn a_few_seconds_are_told_and_alarm_nobody() {
    let text = HEADER.to_owned() + &wave(0, 300) + &wave(305, 300);
    let top = said(&text, &INFANT, &[]);
    assert!(top.contains("sensor: nothing usable for 5 s in all, gaps once"), "{top}");
    assert!(!top.contains("was blind"), "{top}");
    // Samples that are sent twice took no time.
    let twice = wave(0, 300)
        .lines()
        .map(|line| format!("{line}\n{},0.5,5\n", line.split(',').next().unwrap()))
        .collect::<String>();
    let top = said(&(HEADER.to_owned() + &twice), &INFANT, &[]);
    assert!(!top.contains("nothing usable"), "{top}");
}

#[test]
fn what_is_not_heard_at_the_end_counts() {
    let text = HEADER.to_owned() + &wave(0, 300) + &empty(300, 200);
    let top = said(&text, &INFANT, &[]);
    let first = "The check was blind for 3.3 min of 8.3 min: what happened then is not known. Look at the infant";
    assert!(top.contains(first), "{top}");
    let all = said(&text, &INFANT, &["--full"]);
    assert!(
        all.contains("Nothing usable was heard for 3.3 min in all, 3.3 min at one stretch."),
        "{all}"
    );
}
