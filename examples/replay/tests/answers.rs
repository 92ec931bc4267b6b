//! What the top of the report says where a calm word would be wrong: the cases are made here, so that what is true of
//! each is known.

mod common;

use common::case::{brief_with, changed};
use common::recording::{HEADER, simulated, wave};
use tidevane_sim::{LungSettings, Scenario, Schedule};

/// Of sixty inflations a minute to 15 cmH2O over 5, with an infant of 1.8 kg.
fn told(settings: &str) -> String {
    brief_with(&(HEADER.to_owned() + &wave(0, 300)), &[], &format!("weight_g = 1800\n{settings}"))
}

fn holds(said: &str, must: &str) {
    let line = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(line.contains(must), "it does not say: {must}\n{said}");
}

fn lacks(said: &str, never: &str) {
    let line = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(!line.contains(never), "it says: {never}\n{said}");
}

#[test]
fn support_that_no_breath_got_is_not_taken_for_a_step() {
    let full = "inflations to the full peak measured 60 a minute";
    holds(&told("set_rate = 20\nsupport_peak_cmH2O = 8\n"), full);
    // As many as are told, and without support, where each breath may be assisted to the full peak.
    lacks(&told("set_rate = 60\nsupport_peak_cmH2O = 8\n"), full);
    lacks(&told("set_rate = 20\n"), full);
}

#[test]
fn a_peak_that_was_another_most_of_the_time_is_told() {
    let low = |until: f64| {
        let text = changed(600, |t, flow, pressure| {
            (flow, if t < until && pressure > 10.0 { pressure - 5.0 } else { pressure })
        });
        brief_with(&text, &[], "weight_g = 1800\nset_rate = 60\npeak_cmH2O = 15\n")
    };
    let most = "peak told 15.0 cmH2O since 0:00:00, for the most of that time measured 10.";
    holds(&low(400.0), most);
    lacks(&low(200.0), "TOLD AND MEASURED DISAGREE");
}

#[test]
fn pressures_that_moved_without_a_word_are_looked_at_first() {
    let infant = ["--weight-g", "1100", "--set-rate", "40", "--threshold-lpm", "0.24"];
    let with = |to: f64| {
        let mut scenario = Scenario::default();
        let from = scenario.machine.baseline.at(0.0);
        let peak = scenario.machine.peak.at(0.0);
        scenario.machine.baseline = Schedule::constant(from).then(400.0, from + to);
        scenario.machine.peak = Schedule::constant(peak).then(400.0, peak + to);
        brief_with(&simulated(&scenario, 900), &infant, "")
    };
    lacks(&with(0.0), "at first");
    let said = with(-3.0);
    holds(&said, "Look first at what changed: baseline pressure measured 5.0 at first, 2.0 now");
    // Of a breathing infant the lung is not seen, and that is said.
    lacks(&said, "the lung was seen");
    holds(&with(0.0), "no leak jumped; too few breaths show the lung");
}

#[test]
fn a_lung_that_takes_more_pressure_is_one_to_watch() {
    // The same volume by 10 and, from the fifth minute on, by 20 cmH2O.
    let text = changed(900, |t, flow, pressure| {
        (flow, if t > 300.0 && pressure > 10.0 { pressure + 10.0 } else { pressure })
    });
    let said = brief_with(&text, &[], "weight_g = 1800\nset_rate = 60\n");
    // 9 ÷ 10 and 9 ÷ 20 mL for each cmH2O, less what the lead-in moves.
    holds(&said, "peak of set-rate inflations measured 15.");
    holds(&said, "takes more pressure than at first");
}

#[test]
fn large_breaths_of_before_are_not_forgotten() {
    // 1.8 kg: 9 mL are 5 mL/kg; twice as much for seven minutes, 10 mL/kg.
    let text =
        changed(720, |t, flow, pressure| (if t < 420.0 { 2.0 * flow } else { flow }, pressure));
    let said = brief_with(&text, &[], "weight_g = 1800\nset_rate = 60\n");
    holds(&said, "usual now; earlier above 8 mL/kg");
}

#[test]
fn a_target_that_is_not_brought_is_not_held() {
    let with = |target: &str| {
        told(&format!("set_rate = 60\ntarget_ml = {target}\ntarget_ceiling_cmH2O = 30\n"))
    };
    holds(&with("12"), "target not reached");
    lacks(&with("9"), "target not reached");
}

#[test]
fn a_lung_that_does_not_empty_stands_first() {
    // Passive: 100 cmH2O/(L/s) and 1.5 mL/cmH2O are 0.15 s, and the machine leaves 0.75 s or 0.35.
    let with = |rate: f64| {
        let lung = LungSettings::single(100.0, 1.5);
        let mut scenario = Scenario { lung, ..Scenario::default() };
        scenario.effort.amplitude = Schedule::constant(0.0);
        scenario.machine.set_rate = Schedule::constant(rate);
        let settings = format!("weight_g = 2500\nset_rate = {rate}\n");
        brief_with(&simulated(&scenario, 400), &[], &settings)
    };
    let words = "expiration too short to empty the lung";
    lacks(&with(40.0), words);
    holds(&with(85.0), words);
}

#[test]
fn two_inflations_on_one_effort_are_told() {
    let lung = LungSettings::single(60.0, 0.6);
    let mut scenario = Scenario { lung, ..Scenario::default() };
    // Efforts of 0.9 s and 14 cmH2O, inflations of 0.2 s to 11: the second comes while the first effort lasts.
    scenario.machine.inspiratory_time = 0.2;
    scenario.machine.refractory = 0.05;
    scenario.machine.peak = Schedule::constant(11.0);
    scenario.machine.set_rate = Schedule::constant(20.0);
    scenario.effort.duration = 0.9;
    scenario.effort.amplitude = Schedule::constant(14.0);
    scenario.effort.rate = Schedule::constant(35.0);
    let infant = ["--weight-g", "1100", "--set-rate", "20", "--threshold-lpm", "0.24"];
    let said = brief_with(&simulated(&scenario, 400), &infant, "");
    holds(&said, "two inflations on one effort");
}

/// Nobody breathes: a lung of 36 ms behind inflations of 0.3 s to 15 cmH2O over 5, which a heart of 122 beats a minute,
/// each 3 % longer or shorter than that, sets off wherever its 6 mL/s reach 3.3.
fn cycled_by_the_heart(seconds: u32) -> String {
    let (mut text, mut state) = (HEADER.to_owned(), 1_u64);
    let mut even = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        (state >> 33) as f64 / f64::from(1_u32 << 31) - 0.5
    };
    let (mut phase, mut beat, mut volume, mut paw) = (0.0_f64, 60.0 / 122.0, 3.0, 5.0);
    let (mut from, mut crossed) = (-1.0_f64, f64::INFINITY);
    for ms in 0..seconds * 1_000 {
        let t = f64::from(ms) / 1_000.0;
        phase += 0.001 / beat;
        if phase >= 1.0 {
            phase -= 1.0;
            // Three even ones make nearly a normal one, of a standard deviation of a half.
            beat = 60.0 / 122.0 * (1.0 + 0.06 * (even() + even() + even()));
        }
        let to = if t - from < 0.3 { 15.0 } else { 5.0 };
        paw += (to - paw) * 0.001 / 0.02;
        let lung = (paw - volume / 0.6) / 0.06;
        volume += lung * 0.001;
        let flow = lung + 6.0 * (phase * std::f64::consts::TAU).sin();
        if t - from > 0.5 && flow > 3.3 {
            crossed = crossed.min(t);
        }
        if t - crossed >= 0.045 {
            (from, crossed) = (t, f64::INFINITY);
        }
        if ms % 10 == 0 {
            text += &format!("{},{flow:.3},{paw:.3}\n", ms * 1_000);
        }
    }
    text
}

#[test]
fn breaths_that_a_heart_may_set_off_are_nobodys() {
    let infant = ["--weight-g", "1000", "--set-rate", "30", "--threshold-lpm", "0.2"];
    let said = brief_with(&cycled_by_the_heart(900), &infant, "");
    holds(&said, "not known Is the load carried?");
    holds(&said, "not known Did the infant ask for it? ripple moves the muscle pressure");
    lacks(&said, "Nothing measured asks");
}
