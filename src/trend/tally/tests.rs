//! Sums over breaths against worked values.

use super::*;

pub(crate) fn breath(kind: BreathKind, ms: u32, volume: i32) -> TrendBreath {
    TrendBreath {
        length: Duration::from_millis(ms),
        kind,
        by_infant: true,
        self_cycled: false,
        late: false,
        volume: Some(Volume::from_milli(volume).value),
        at_sensor: Some((Volume::from_int(6), Volume::from_int(5))),
        peak_flow: Flow::from_int(40),
        expiration: Duration::from_millis(600),
        trusted: true,
        implausible: false,
        shallow: false,
    }
}

#[test]
fn a_minute_of_three_kinds() {
    // 20 own breaths of 4 mL, 10 supported of 5, 30 assured of 6, each 1 s: 60 in 60 s.
    // Minute volume 80 + 50 + 180 = 310 mL, of which own 25.8 %, assured 58.1 %; leak 1/6 of 6 mL.
    let mut tally = Tally::default();
    for (kind, n, ml) in [
        (BreathKind::Own, 20, 4_000),
        (BreathKind::Supported, 10, 5_000),
        (BreathKind::Assured, 30, 6_000),
    ] {
        for _ in 0..n {
            tally.take(&breath(kind, 1_000, ml));
        }
    }
    tally.miss();
    assert_eq!(tally.rate(), Some(Rate::from_int(60)));
    assert_eq!(tally.a_minute(tally.count(BreathKind::Own)), Some(Rate::from_int(20)));
    assert_eq!(tally.volume(BreathKind::Supported), Some(Volume::from_int(5)));
    let near = |got: f64, want: f64| assert!((got - want).abs() < 0.01, "{got} {want}");
    near(tally.minute_volume().unwrap().to_f64(), 310.0);
    // (80 + 50) ÷ 310 = 41.9 %; 60/min over 310 ÷ 60 = 5.1667 mL of 1 kg: 11.613.
    near(tally.infant_share().unwrap().to_f64(), 130.0 / 310.0);
    let mass = Mass::from_grams(1_000).unwrap();
    let index = f64::from(tally.rapid_shallow(mass).unwrap().value.value);
    assert!((index - 11.613).abs() < 0.001);
    near(tally.leak().unwrap().to_f64(), 1.0 / 6.0);
    // free breaths: (80 + 50) ÷ 30
    assert_eq!(tally.free_volume().map(|(v, n)| ((v.to_f64() * 1e3) as i32, n)), Some((4_333, 30)));
    assert_eq!(tally.peak_flow(), Some(Flow::from_int(40)));
    assert_eq!((tally.missed(), tally.pauses(), tally.by_infant()), (1, 0, 60));
    // Two such minutes: twice the counts, the same rates.
    let two = tally.with(&tally);
    assert_eq!((two.breaths(), two.rate()), (120, tally.rate()));
    near(two.minute_volume().unwrap().to_f64(), 310.0);
}

#[test]
fn the_unknown_is_kept_apart() {
    let mut tally = Tally::default();
    assert_eq!((tally.rate(), tally.minute_volume(), tally.leak()), (None, None, None));
    tally.take(&TrendBreath { trusted: false, ..breath(BreathKind::Own, 7_000, 4_000) });
    assert_eq!((tally.breaths(), tally.known()), (0, Duration::ZERO));
    assert_eq!(tally.unknown(), Duration::from_millis(7_000));
    // Of three breaths only one has a volume: fewer than half.
    for volume in [Some(Volume::from_int(4)), None, None] {
        tally.take(&TrendBreath { volume, ..breath(BreathKind::Own, 1_000, 0) });
    }
    assert_eq!(tally.volume(BreathKind::Own), Some(Volume::from_int(4)));
    assert_eq!((tally.minute_volume(), tally.rate()), (None, Some(Rate::from_int(60))));
}

#[test]
fn nothing_wraps() {
    let mut tally = Tally::default();
    let large = TrendBreath {
        length: Duration::from_us(u64::MAX),
        volume: Some(Volume::MAX),
        at_sensor: Some((Volume::MAX, Volume::MIN)),
        peak_flow: Flow::MAX,
        expiration: Duration::from_millis(5_000),
        ..breath(BreathKind::Own, 0, 0)
    };
    for _ in 0..70_000 {
        tally.take(&large);
        tally.miss();
    }
    assert_eq!((tally.breaths(), tally.missed(), tally.pauses()), (65_535, 65_535, 65_535));
    let both = tally.with(&tally);
    assert_eq!((both.breaths(), both.known()), (65_535, Duration::from_us(u64::from(u32::MAX))));
    assert!(both.volume(BreathKind::Own).is_some());
}

#[test]
fn half_of_the_breaths_with_a_volume_are_enough() {
    // Two of four have one, 4 and 5 mL: 4.5.
    let mut tally = Tally::default();
    for volume in [Some(4_000), None, Some(5_000), None] {
        let volume = volume.map(|micro_l| Volume::from_milli(micro_l).value);
        tally.take(&TrendBreath { volume, ..breath(BreathKind::Own, 1_000, 0) });
    }
    assert_eq!(tally.mean_volume(), Some(Volume::from_milli(4_500).value));
}
