//! Published tests of readiness: the ratio of minute volumes, time under a threshold, settings to begin from.

use crate::fuzzed::arguments::{number, span};
use crate::fuzzed::bytes::Bytes;
use crate::fuzzed::refused::{held, long};
use crate::fuzzed::words::said;
use tidevane::bedside::{
    BelowShare, Entry, EntryLimits, Met, MinuteVolumeRatio, NoBelowShare, NoRatio, OwnRun,
    RatioOutcome, TimeBelow, TimeBelowState,
};
use tidevane::quantity::{Duration, MinuteVolumePerKg, Pressure, Rate, Share, Volume};

const ONE: i32 = 65_536;

pub(super) fn check(bytes: &mut Bytes<'_>) -> Option<()> {
    let what = bytes.u8()?;
    match what % 3 {
        0 => ratio(bytes, what),
        1 => below(bytes),
        _ => entry(bytes, what),
    }
}

/// A part of a hundred, to the nearest step.
fn percent(n: i64) -> i32 {
    i32::try_from((n * 65_536 + 50).div_euclid(100)).unwrap()
}

fn ratio(bytes: &mut Bytes<'_>, what: u8) -> Option<()> {
    let (least, lasting, most) = (Share::from_bits(number(bytes)?), span(bytes)?, bytes.u8()?);
    let (lasted, breaths) = (span(bytes)?, u32::from(bytes.u16()?));
    let (own, mechanical) = (Volume::from_bits(number(bytes)?), Volume::from_bits(number(bytes)?));
    let made = MinuteVolumeRatio::new(least, lasting, most.into());
    held(
        &made,
        &[
            ("least", !(percent(10)..=percent(150)).contains(&least.to_bits())),
            ("lasting", long(lasting, 60_000, 3_600_000)),
            ("breaths", most == 0),
        ],
    );
    let (test, least, lasting, most) = match made {
        Ok(test) => (test, least, lasting, most.into()),
        Err(_) => (
            MinuteVolumeRatio::default(),
            Share::from_percent(50),
            Duration::from_millis(600_000),
            100_u32,
        ),
    };
    let run = OwnRun {
        lasted,
        breaths,
        own: (what & 4 == 0).then_some(own),
        mechanical: (what & 8 == 0).then_some(mechanical),
    };
    let outcome = test.judge(&run);
    said(&outcome);
    let quotient = |own: Volume, all: Volume| {
        (i64::from(own.to_bits()) << 16).checked_div(all.to_bits().into())
    };
    match outcome {
        RatioOutcome::Reached(share) | RatioOutcome::NotReached(share) => {
            assert!(lasted >= lasting && breaths >= most);
            let (own, all) = (run.own.unwrap(), run.mechanical.unwrap());
            assert!(own >= Volume::ZERO && all > Volume::ZERO);
            assert_eq!(Some(i64::from(share.to_bits())), quotient(own, all));
            assert_eq!(matches!(outcome, RatioOutcome::Reached(_)), share >= least);
        }
        RatioOutcome::Unknown(why) => assert!(
            match why {
                NoRatio::TooShort => lasted < lasting,
                NoRatio::TooFewBreaths => breaths < most,
                NoRatio::NoOwn => run.own.is_none_or(|own| own < Volume::ZERO),
                NoRatio::NoMechanical => run.mechanical.is_none_or(|all| all <= Volume::ZERO),
                _ => run.own.zip(run.mechanical).is_some_and(|(own, all)| {
                    quotient(own, all).is_some_and(|bits| i32::try_from(bits).is_err())
                }),
            },
            "{why}: {run:?}"
        ),
    }
    Some(())
}

fn below(bytes: &mut Bytes<'_>) -> Option<()> {
    let (threshold, lasting, known) = (number(bytes)?, span(bytes)?, number(bytes)?);
    let made =
        TimeBelow::new(MinuteVolumePerKg::from_bits(threshold), lasting, Share::from_bits(known));
    held(
        &made,
        &[
            ("threshold", !(1..=1_000 * ONE).contains(&threshold)),
            ("lasting", long(lasting, 60_000, 86_400_000)),
            ("known", !(percent(10)..=ONE).contains(&known)),
        ],
    );
    let (test, threshold, lasting, least) = match made {
        Ok(test) => (test, threshold, lasting, known),
        Err(_) => (TimeBelow::default(), 125 * ONE, Duration::from_millis(7_200_000), percent(90)),
    };
    let mut state = TimeBelowState::default();
    let (mut known, mut below, mut unknown) = (0_u128, 0_u128, 0_u128);
    for _ in 0..bytes.u8()? % 16 {
        let (kind, minute) = (bytes.u8()?, number(bytes)?);
        // Each up to 36 hours, so that no sum leaves its range.
        let span = Duration::from_millis(u32::from(bytes.u16()?) * 2_000);
        let volume = (kind % 4 != 0).then_some(MinuteVolumePerKg::from_bits(minute));
        test.step(&mut state, span, volume);
        let us = u128::from(span.to_us());
        match volume.map(MinuteVolumePerKg::to_bits) {
            Some(bits) if bits >= 0 => {
                known += us;
                below += if bits < threshold { us } else { 0 };
            }
            _ => unknown += us,
        }
    }
    let spans = state.spans();
    let told = [spans.below, spans.known, spans.unknown].map(|span| u128::from(span.to_us()));
    assert_eq!(told, [below, known, unknown]);
    let share = test.share(&state);
    said(&share);
    let watched = known + unknown;
    let part = |part: u128, whole: u128| (part << 16).checked_div(whole);
    match share {
        BelowShare::Known(share) => {
            assert!(watched >= u128::from(lasting.to_us()));
            assert!(part(known, watched) >= u128::try_from(least).ok());
            assert_eq!(u128::try_from(share.to_bits()).ok(), part(below, known));
        }
        BelowShare::Unknown(NoBelowShare::TooShort) => {
            assert!(watched < u128::from(lasting.to_us()));
        }
        BelowShare::Unknown(_) => assert!(part(known, watched) < u128::try_from(least).ok()),
    }
    Some(())
}

fn entry(bytes: &mut Bytes<'_>, what: u8) -> Option<()> {
    let limits = [number(bytes)?, number(bytes)?, number(bytes)?];
    let now = [number(bytes)?, number(bytes)?, number(bytes)?];
    let [oxygen, peak, rate] = limits;
    let made = EntryLimits::new(
        Share::from_bits(oxygen),
        Pressure::from_bits(peak),
        Rate::from_bits(rate),
    );
    held(
        &made,
        &[
            ("oxygen", !(percent(21)..=ONE).contains(&oxygen)),
            ("peak", !(ONE..=80 * ONE).contains(&peak)),
            ("rate", !(0..=150 * ONE).contains(&rate)),
        ],
    );
    let (test, limits) = match made {
        Ok(test) => (test, limits),
        Err(_) => (EntryLimits::default(), [percent(35), 20 * ONE, 20 * ONE]),
    };
    let known = |n: usize| Some(now[n]).filter(|_| what & (4 << n) == 0);
    let report = test.check(&Entry {
        oxygen: known(0).map(Share::from_bits),
        peak: known(1).map(Pressure::from_bits),
        rate: known(2).map(Rate::from_bits),
    });
    said(&report);
    let met = [report.oxygen, report.peak, report.rate];
    for (n, (least, got)) in [percent(20), 0, 0].into_iter().zip(met).enumerate() {
        let want = match known(n) {
            Some(bits) if bits > limits[n] => Met::NotMet,
            Some(bits) if bits >= least => Met::Met,
            _ => Met::NotKnown,
        };
        assert_eq!(got, want, "{n}: {now:?} at {limits:?}");
        said(&got);
    }
    Some(())
}
