//! Samples taken in blocks are the samples taken one by one: nothing is lost, and nothing comes later.

use proptest::prelude::*;
use tidevane::monitor::{Monitor, Report};
use tidevane::signal::Sample;
use tidevane_support::leaky::{recording, settings};
use tidevane_support::wild::samples;

/// All that each sample had to say, one by one.
fn singly(monitor: &mut Monitor, samples: &[Sample]) -> Vec<(usize, Report)> {
    let reports = samples.iter().map(|sample| monitor.push(*sample)).enumerate();
    reports.filter(|(_, report)| !report.is_silent()).collect()
}

/// The same from blocks of so many samples in turn.
fn in_blocks(monitor: &mut Monitor, samples: &[Sample], of: &[usize]) -> Vec<(usize, Report)> {
    let (mut said, mut at) = (Vec::new(), 0);
    let mut lengths = of.iter().cycle();
    while at < samples.len() {
        let until = samples.len().min(at + lengths.next().unwrap());
        while at < until {
            let mut report = Report::default();
            let taken = monitor.push_block(&samples[at..until], &mut report);
            assert!(taken > 0 && taken <= until - at, "{taken} of {}", until - at);
            at += taken;
            if !report.is_silent() {
                said.push((at - 1, report));
            } else {
                assert_eq!(at, until, "a silent report, and samples left");
            }
        }
    }
    said
}

fn any_sample() -> impl Strategy<Value = (u32, i32, i32)> {
    prop_oneof![
        40 => (8_000_u32..12_000, -4_000_000..4_000_000_i32, 0..1_300_000_i32),
        1 => (any::<u32>(), any::<i32>(), any::<i32>()),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Wild streams, with gaps, clocks set back and readings out of range.
    #[test]
    fn blocks_say_what_singles_say(
        stream in prop::collection::vec(any_sample(), 1..900),
        lengths in prop::collection::vec(1_usize..40, 1..6),
    ) {
        let samples = samples(&stream);
        let (mut one, mut other) = (Monitor::new(settings()), Monitor::new(settings()));
        prop_assert_eq!(singly(&mut one, &samples), in_blocks(&mut other, &samples, &lengths));
        prop_assert_eq!(one, other);
    }
}

/// Two minutes of a breathing infant: every breath, alarm and limit reached.
#[test]
fn blocks_of_eight_say_what_singles_say_of_a_breathing_infant() {
    let samples = recording(100, 120);
    let (mut one, mut other) = (Monitor::new(settings()), Monitor::new(settings()));
    let said = singly(&mut one, &samples);
    let breaths = said.iter().filter(|(_, report)| report.breath.is_some()).count();
    // 40 breaths a minute are set, and the infant draws more.
    assert!(breaths > 70, "{breaths} breaths");
    assert_eq!(said, in_blocks(&mut other, &samples, &[8]));
    assert_eq!(one, other);
}

#[test]
fn an_empty_block_takes_nothing_and_clears_the_report() {
    let samples = recording(100, 10);
    let (mut monitor, mut report) = (Monitor::new(settings()), Report::default());
    let told = samples.iter().position(|sample| {
        monitor.push_into(*sample, &mut report);
        !report.is_silent()
    });
    assert!(told.is_some(), "nothing in ten seconds");
    assert_eq!(monitor.push_block(&[], &mut report), 0);
    assert!(report.is_silent());
}
