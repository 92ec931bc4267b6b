//! A monitor that goes on from its snapshot says what one that was never stopped says, to the bit.

use proptest::prelude::*;
use tidevane::alarm::Condition;
use tidevane::monitor::snapshot::{SnapshotError, read, read_into, room, write};
use tidevane::monitor::{EventKind, Journal, Monitor, Report, Settings};
use tidevane::quantity::{Duration, Record, Tick};
use tidevane::signal::{Flags, Sample};
use tidevane_support::fuzzed::setup;
use tidevane_support::leaky::{recording, settings};
use tidevane_support::wild::samples;

fn kept<T: Record>(value: &T) -> Vec<u8> {
    let mut bytes = vec![0xa5; room::<T>()];
    let used = write(value, &mut bytes).unwrap();
    bytes.truncate(used);
    bytes
}

/// Pushes samples; at each of the places the monitor is lost and begun from its snapshot.
fn reset_at(places: &[usize], samples: &[Sample], settings: Settings) {
    let (mut never, mut reset) = (Monitor::new(settings), Monitor::new(settings));
    // Twenty seconds of an infant, so that all that can be filled is.
    let other = recording(100, 20);
    let (mut journal, mut journal_reset) = (Journal::<8>::new(), Journal::<8>::new());
    for (place, sample) in samples.iter().enumerate() {
        if places.contains(&place) {
            // By value and in place of a monitor that has heard something else.
            let bytes = kept(&reset);
            reset = Monitor::new(settings);
            other.iter().for_each(|sample| drop(reset.push(*sample)));
            read_into(&mut reset, &bytes).unwrap();
            assert_eq!(read(&bytes).as_ref(), Ok(&reset));
            journal_reset = read(&kept(&journal_reset)).unwrap();
        }
        let (one, other) = (never.push(*sample), reset.push(*sample));
        assert_eq!(one, other, "sample {place}, reset before {places:?}");
        journal.take(&one);
        journal_reset.take(&other);
    }
    assert_eq!((never, journal), (reset, journal_reset));
}

#[test]
fn a_breathing_infant_before_during_and_after_a_breath_is_worked_out() {
    let samples = recording(100, 120);
    let mut monitor = Monitor::new(settings());
    let told = samples.iter().position(|sample| monitor.push(*sample).breath.is_some()).unwrap();
    // A breath is told with the eighth sample after its turn: each of its slices is stood in once.
    let around: Vec<_> = (told.saturating_sub(12)..told + 4).collect();
    reset_at(&around, &samples, settings());
    reset_at(&[0, 1, 6_000, 11_999], &samples, settings());
}

#[test]
fn every_setup_is_kept() {
    for number in 0..=255 {
        let settings = setup::setup(number).settings;
        assert_eq!(read::<Settings>(&kept(&settings)), Ok(settings), "setup {number}");
        let monitor = Monitor::new(settings);
        assert_eq!(read::<Monitor>(&kept(&monitor)), Ok(monitor), "setup {number}");
    }
}

#[test]
fn a_snapshot_of_something_else_is_refused() {
    let journal = kept(&Journal::<8>::new());
    assert_eq!(read::<Journal<16>>(&journal), Err(SnapshotError::Foreign));
    assert_eq!(read::<Monitor>(&journal), Err(SnapshotError::Foreign));
    assert_eq!(read::<Duration>(&[]), Err(SnapshotError::Damaged));
}

/// CRC-32 of ISO/IEC/IEEE 8802-3, bit by bit: the polynomial 0xEDB88320 from the low end.
fn crc_32(bytes: &[u8]) -> u32 {
    let bit = |crc: u32| if crc & 1 == 1 { (crc >> 1) ^ 0xedb8_8320 } else { crc >> 1 };
    !bytes.iter().fold(!0, |crc, byte| (0..8).fold(crc ^ u32::from(*byte), |crc, _| bit(crc)))
}

#[test]
fn whole_bytes_that_hold_more_than_the_value_are_refused() {
    let settings = Settings::default();
    let whole = kept(&settings);
    let (mut longer, length) = (whole[..whole.len() - 4].to_vec(), whole.len() - 12);
    longer.push(0);
    longer[4..8].copy_from_slice(&u32::try_from(length + 1).unwrap().to_le_bytes());
    let crc = crc_32(&longer).to_le_bytes();
    longer.extend(crc);
    assert_eq!(read::<Settings>(&longer), Err(SnapshotError::Refused));
    assert_eq!(read_into(&mut settings.clone(), &longer), Err(SnapshotError::Refused));
    // The same bytes without the one too many are a snapshot.
    let mut same = longer[..whole.len() - 4].to_vec();
    same[4..8].copy_from_slice(&u32::try_from(length).unwrap().to_le_bytes());
    let crc = crc_32(&same).to_le_bytes();
    same.extend(crc);
    assert_eq!((same == whole, read::<Settings>(&same)), (true, Ok(settings)));
}

/// A minute heard with the counter at fifty minutes, and a minute after a reset from which it counts anew.
#[test]
fn a_counter_that_began_anew_tells_of_no_hour_that_passed() {
    let mut samples = recording(100, 120);
    let (before, after) = samples.split_at_mut(6_000);
    let tick = |sample: &Sample, from: u32| Sample {
        tick: Tick::from_us(sample.tick.to_us().wrapping_add(from)),
        ..*sample
    };
    let mut monitor = Monitor::new(settings());
    before.iter().for_each(|sample| drop(monitor.push(tick(sample, 3_000_000_000))));
    let bytes = kept(&monitor);
    let run = |monitor: &mut Monitor| {
        let reports =
            after.iter().map(|sample| monitor.push(tick(sample, 0_u32.wrapping_sub(60_000_000))));
        reports.collect::<Vec<_>>()
    };
    let mut reset: Monitor = read(&bytes).unwrap();
    // The first sample behind it comes with 0, as far from this as samples are apart.
    reset.resume(Tick::from_us(0_u32.wrapping_sub(10_000)));
    let told = run(&mut reset);
    let rings = |told: &[Report]| {
        told.iter().flat_map(|report| &report.events).any(|event| {
            matches!(event.what, EventKind::Alarm(alarm) if alarm.condition == Condition::Apnoea)
        })
    };
    let flags: Vec<_> =
        told.iter().filter_map(|report| report.breath).map(|breath| breath.breath.flags).collect();
    assert!(flags.len() > 35, "{} breaths", flags.len());
    // The breath that the reset cut through, or the one before it that was found already, and no other.
    assert!(flags[..2].iter().any(|flags| flags.has(Flags::GAP)), "{:?}", &flags[..2]);
    assert!(flags[2..].iter().all(|flags| !flags.has(Flags::GAP)));
    assert!(!rings(&told), "an apnoea of a time that nobody knows");
    // Without it the counter, 1 295 s on by the shorter way round, is believed.
    assert!(rings(&run(&mut read::<Monitor>(&bytes).unwrap())), "then nobody need resume");
}

fn any_sample() -> impl Strategy<Value = (u32, i32, i32)> {
    prop_oneof![
        40 => (8_000_u32..12_000, -4_000_000..4_000_000_i32, 0..1_300_000_i32),
        1 => (any::<u32>(), any::<i32>(), any::<i32>()),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Wild streams, with gaps, clocks set back and readings out of range, cut anywhere.
    #[test]
    fn wild_streams_go_on(
        stream in prop::collection::vec(any_sample(), 1..900),
        places in prop::collection::vec(0_usize..900, 1..5),
        number in any::<u8>(),
    ) {
        let samples = samples(&stream);
        reset_at(&places, &samples, setup::setup(number).settings);
    }

    /// Any bytes: an error or a value, and one changed bit is always noticed.
    #[test]
    fn damage_is_noticed(place in any::<prop::sample::Index>(), bit in 0_u8..8, number in any::<u8>()) {
        let mut bytes = kept(&setup::setup(number).settings);
        let place = place.index(bytes.len());
        bytes[place] ^= 1 << bit;
        prop_assert!(read::<Settings>(&bytes).is_err(), "byte {place}, bit {bit}");
    }
}
