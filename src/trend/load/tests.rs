//! The verdict against courses of minutes worked by hand.

use super::*;
use crate::alarm::BreathKind;
use crate::quantity::{Duration, Flow, Instant};
use crate::trend::TrendBreath;
use crate::trend::tally::tests::breath;
use std::string::ToString;

/// A stretch of breaths that are alike.
#[derive(Clone, Copy)]
pub(super) struct Stretch {
    pub(super) minutes: u64,
    pub(super) length_ms: u32,
    pub(super) micro_l: i32,
    pub(super) change: fn(TrendBreath) -> TrendBreath,
}

pub(super) const fn stretch(minutes: u64, length_ms: u32, micro_l: i32) -> Stretch {
    Stretch { minutes, length_ms, micro_l, change: |b| b }
}

/// Every verdict over a course of own breaths, with the minute it came in.
pub(super) fn course(load: LoadCriteria, stretches: &[Stretch]) -> Vec<(u64, LoadVerdict)> {
    course_of(load, stretches, false)
}

/// Of breaths that may be nobody's.
fn course_of(load: LoadCriteria, stretches: &[Stretch], doubtful: bool) -> Vec<(u64, LoadVerdict)> {
    let trend = Trend::default();
    let (mut minutes, mut state) = (TrendState::default(), LoadState::default());
    let (mut ms, mut end, mut out) = (0_u64, 0, Vec::new());
    for s in stretches {
        end += s.minutes * 60_000;
        while ms < end {
            ms += u64::from(s.length_ms);
            let own = (s.change)(breath(BreathKind::Own, s.length_ms, s.micro_l));
            if trend.breath(&mut minutes, Instant::from_us(ms * 1_000), &own)
                && let Some(verdict) = load.judge(&mut state, &trend, &minutes, || doubtful)
            {
                out.push((ms / 60_000, verdict));
            }
        }
    }
    out
}

use std::vec::Vec;

pub(super) fn last(stretches: &[Stretch]) -> LoadVerdict {
    last_of(stretches, false)
}

pub(super) fn last_of(stretches: &[Stretch], doubtful: bool) -> LoadVerdict {
    course_of(LoadCriteria::default(), stretches, doubtful)
        .last()
        .map_or(LoadState::default().verdict, |(_, v)| *v)
}

#[test]
fn a_steady_infant_goes_on() {
    // 60/min of 4 mL for 20 minutes: the first verdict after 1 + 3 + 3 whole minutes.
    let got = course(LoadCriteria::default(), &[stretch(20, 1_000, 4_000)]);
    assert_eq!(got, [(7, LoadVerdict::NoSign)]);
    assert_eq!(got[0].1.to_string(), "no sign of overload in what flow shows");
}

#[test]
fn faster_and_smaller_breaths_ask_for_a_step_back() {
    // 60/min of 4 mL, then 75/min (800 ms) of 3.2 mL: rate +25 %, volume −20 %, both beyond 15 %.
    // Hold when a window first shows it, step back when the next one does too.
    let got = course(LoadCriteria::default(), &[stretch(10, 1_000, 4_000), stretch(8, 800, 3_200)]);
    let signs = LoadSigns::RAPID_SHALLOW;
    let named: Vec<_> = got.iter().map(|(_, v)| *v).collect();
    assert_eq!(
        named,
        [LoadVerdict::NoSign, LoadVerdict::Hold(signs), LoadVerdict::StepBack(signs)]
    );
    assert!(got[2].0 - got[1].0 == 1 && got[2].0 <= 14, "{got:?}");
    assert_eq!(got[2].1.to_string(), "step back: faster and smaller breaths");
}

#[test]
fn one_of_the_two_is_not_enough() {
    // Faster alone: 80/min of 4 mL. Smaller alone, 60/min of 3.3 mL: −17.5 % of volume and of
    // minute volume, within 30 %.
    assert_eq!(last(&[stretch(10, 1_000, 4_000), stretch(10, 750, 4_000)]), LoadVerdict::NoSign);
    assert_eq!(last(&[stretch(10, 1_000, 4_000), stretch(10, 1_000, 3_300)]), LoadVerdict::NoSign);
}

#[test]
fn less_minute_volume_asks_for_a_step_back() {
    // 60/min of 4 mL = 240 mL/min, then 60/min of 2.6 mL = 156: −35 %.
    let verdict = last(&[stretch(10, 1_000, 4_000), stretch(8, 1_000, 2_600)]);
    assert_eq!(verdict, LoadVerdict::StepBack(LoadSigns::LESS_VOLUME));
}

#[test]
fn an_infant_that_gives_up_is_seen() {
    // Own breaths give way to the timer's: as many breaths as large, but half as many of the
    // infant's (every inflation of the second stretch is the machine's).
    let assured = Stretch {
        change: |b| TrendBreath { kind: BreathKind::Assured, by_infant: false, ..b },
        ..stretch(8, 1_000, 4_000)
    };
    let verdict = last(&[stretch(10, 1_000, 4_000), assured]);
    assert_eq!(verdict, LoadVerdict::StepBack(LoadSigns::FEWER_OWN));
}

#[test]
fn pauses_alone_ask_for_time() {
    // A breath in ten has an expiration of 6 s: pauses rise, the rate stays within 15 %... the
    // lengths are alike here, so only the pause itself is told.
    let paused = Stretch {
        change: |b| TrendBreath { expiration: Duration::from_millis(6_000), ..b },
        ..stretch(8, 1_000, 4_000)
    };
    let verdict = last(&[stretch(10, 1_000, 4_000), paused]);
    assert_eq!(verdict, LoadVerdict::Hold(LoadSigns::PAUSES));
}

#[test]
fn a_harder_draw_through_the_tube_asks_for_time() {
    // K1 30 cmH2O/(L/s), K2 250: at 0.04 L/s 1.2 + 0.4 = 1.6 cmH2O, at 0.06 L/s 1.8 + 0.9 = 2.7:
    // 69 % and 1.1 cmH2O more.
    let k2 = fixed::types::I16F16::from_num(250);
    let tube = TubeResistance::new(crate::quantity::Resistance::from_int(30), k2).unwrap();
    let harder = Stretch {
        change: |b| TrendBreath { peak_flow: Flow::from_int(60), ..b },
        ..stretch(8, 1_000, 4_000)
    };
    let stretches = [stretch(10, 1_000, 4_000), harder];
    let got = course(LoadCriteria::default().with_tube(tube), &stretches);
    assert_eq!(got.last().map(|(_, v)| *v), Some(LoadVerdict::Hold(LoadSigns::TUBE_LOSS)));
    // Without the tube it is not known.
    assert_eq!(last(&stretches), LoadVerdict::NoSign);
}

#[test]
fn a_step_is_held_against_the_one_before() {
    // 60/min of 6 mL before the step. Gupta 2009: from full to partial support the rate rises by
    // 10 % and the volume falls by 23 %: within the room left. 80/min of 4 mL (+33 %, −33 %) is not.
    let verdict = |length_ms, micro_l| {
        let (trend, load) = (Trend::default(), LoadCriteria::default());
        let (mut minutes, mut state) = (TrendState::default(), LoadState::default());
        let mut ms = 0_u64;
        let mut run = |minutes: &mut TrendState, state: &mut LoadState, length: u32, volume| {
            let end = ms + 600_000;
            while ms < end {
                ms += u64::from(length);
                let own = breath(BreathKind::Supported, length, volume);
                if trend.breath(minutes, Instant::from_us(ms * 1_000), &own) {
                    let _ = load.judge(state, &trend, minutes, || false);
                }
            }
            ms
        };
        let end = run(&mut minutes, &mut state, 1_000, 6_000);
        trend.rebase(&mut minutes, Instant::from_us(end * 1_000));
        load.rebase(&mut state);
        assert_eq!(state.verdict(), LoadVerdict::CannotTell(NoVerdict::TooSoon));
        run(&mut minutes, &mut state, length_ms, micro_l);
        state.verdict()
    };
    assert_eq!(verdict(909, 4_620), LoadVerdict::NoSign);
    assert_eq!(verdict(750, 4_000), LoadVerdict::Hold(LoadSigns::COSTLY_STEP));
}

#[test]
fn no_single_breath_decides() {
    // 60/min of 4 mL for 20 minutes with one breath of any kind at any time: still proceed.
    let odd: [fn(TrendBreath) -> TrendBreath; 6] = [
        |b| TrendBreath { volume: Some(Volume::from_int(3_000)), ..b },
        |b| TrendBreath { volume: Some(Volume::from_int(-3_000)), ..b },
        |b| TrendBreath { volume: None, ..b },
        |b| TrendBreath { trusted: false, ..b },
        |b| TrendBreath { kind: BreathKind::Assured, by_infant: false, self_cycled: true, ..b },
        |b| TrendBreath {
            length: Duration::from_millis(120_000),
            expiration: Duration::from_millis(119_000),
            ..b
        },
    ];
    for change in odd {
        for when in [1, 100, 200, 500, 700, 900, 1_100] {
            let (trend, load) = (Trend::default(), LoadCriteria::default());
            let (mut minutes, mut state) = (TrendState::default(), LoadState::default());
            let mut ms = 0_u64;
            for i in 0..1_200 {
                let own = breath(BreathKind::Own, 1_000, 4_000);
                let own = if i == when { change(own) } else { own };
                ms += own.length.to_us() / 1_000;
                if trend.breath(&mut minutes, Instant::from_us(ms * 1_000), &own)
                    && let Some(verdict) = load.judge(&mut state, &trend, &minutes, || false)
                {
                    assert_eq!(verdict, LoadVerdict::NoSign, "breath {when}");
                }
            }
            assert_eq!(state.verdict(), LoadVerdict::NoSign);
        }
    }
}

#[test]
fn settings_are_checked() {
    let wrong = |percent, n| {
        LoadCriteria::new(Share::from_percent(percent), n).map_err(|e| e.parameter).err()
    };
    assert_eq!(wrong(4, 2), Some("change"));
    assert_eq!(wrong(51, 2), Some("change"));
    assert_eq!(wrong(15, 0), Some("sustain"));
    assert_eq!(wrong(15, 11), Some("sustain"));
    assert_eq!(wrong(15, 1), None);
}

/// The last verdict over a course, for an infant of a kilogram.
fn of_a_kilogram(stretches: &[Stretch]) -> LoadVerdict {
    let mass = Mass::from_grams(1_000).unwrap();
    let load = LoadCriteria::default().with_weight(mass);
    let trend = Trend::default().with_weight(mass);
    let (mut minutes, mut state) = (TrendState::default(), LoadState::default());
    let (mut ms, mut end) = (0_u64, 0);
    for s in stretches {
        end += s.minutes * 60_000;
        while ms < end {
            ms += u64::from(s.length_ms);
            let own = (s.change)(breath(BreathKind::Own, s.length_ms, s.micro_l));
            if trend.breath(&mut minutes, Instant::from_us(ms * 1_000), &own) {
                let _ = load.judge(&mut state, &trend, &minutes, || false);
            }
        }
    }
    state.verdict()
}

#[test]
fn what_no_earlier_time_excuses_is_a_sign_from_the_beginning() {
    let signs = |length, micro_l| match of_a_kilogram(&[stretch(15, length, micro_l)]) {
        LoadVerdict::NoSign => LoadSigns::NONE,
        LoadVerdict::Hold(signs) | LoadVerdict::StepBack(signs) => signs,
        told @ LoadVerdict::CannotTell(_) => panic!("{told}"),
    };
    // 60/min of 5 mL: 300 mL/kg, of which (5 − 3.28) × 60 = 103 beyond the dead space.
    assert_eq!(signs(1_000, 5_000), LoadSigns::NONE);
    // 24.6/min of 5 mL: 123 mL/kg a minute, of which 42 beyond; 25.6/min are 128.
    assert_eq!(signs(2_439, 5_000), LoadSigns::LITTLE_VOLUME);
    assert_eq!(signs(2_343, 5_000), LoadSigns::NONE);
    // 60/min of 3.7 mL: 222 mL/kg, of which 25 beyond; of 3.8 mL 31 are.
    assert_eq!(signs(1_000, 3_700), LoadSigns::LESS_ALVEOLAR);
    assert_eq!(signs(1_000, 3_800), LoadSigns::NONE);
    // 3.27 mL is under the dead space of 3.28: nothing goes beyond it.
    assert_eq!(signs(1_000, 3_270), LoadSigns::LESS_ALVEOLAR.with(LoadSigns::SMALL));
}

#[test]
fn volume_beyond_the_dead_space_falls_sooner_than_the_whole() {
    // 60/min of 6 mL: 360 and 163 beyond; then of 4.9 mL: 294, −18 %, and 97, −40 %.
    let verdict = of_a_kilogram(&[stretch(10, 1_000, 6_000), stretch(8, 1_000, 4_900)]);
    assert_eq!(verdict, LoadVerdict::StepBack(LoadSigns::LESS_ALVEOLAR));
    assert!(!verdict.is_tiring(), "breathing less is no tiring");
    let little = of_a_kilogram(&[stretch(10, 1_000, 6_000), stretch(8, 1_000, 5_300)]);
    assert_eq!(little, LoadVerdict::NoSign); // 318, −12 %, and 121, −26 %
}

#[test]
fn a_slow_heart_or_a_low_saturation_needs_no_volume() {
    let load = LoadCriteria::default();
    let (trend, minutes) = (Trend::default(), TrendState::default());
    let shown = |heart_rate, saturation| {
        let mut state = LoadState::default();
        load.set_vital_signs(&mut state, VitalSigns { heart_rate, saturation });
        // It passed before the minute was over: that counts once, and what stays counts on.
        let first = load.judge(&mut state, &trend, &minutes, || false);
        (first, load.judge(&mut state, &trend, &minutes, || false))
    };
    assert_eq!(shown(Some(100), Some(85)), (None, None));
    let slow = LoadSigns::SLOW_HEART;
    assert_eq!(
        shown(Some(99), None),
        (Some(LoadVerdict::Hold(slow)), Some(LoadVerdict::StepBack(slow)))
    );
    let low = LoadSigns::LOW_SATURATION;
    assert_eq!(
        shown(None, Some(84)),
        (Some(LoadVerdict::Hold(low)), Some(LoadVerdict::StepBack(low)))
    );
    // A dip that passed counts once.
    let mut state = LoadState::default();
    for saturation in [Some(84), Some(95)] {
        load.set_vital_signs(&mut state, VitalSigns { heart_rate: None, saturation });
    }
    assert_eq!(load.judge(&mut state, &trend, &minutes, || false), Some(LoadVerdict::Hold(low)));
    assert!(matches!(
        load.judge(&mut state, &trend, &minutes, || false),
        Some(LoadVerdict::CannotTell(_))
    ));
}

#[test]
fn a_sign_that_is_gone_is_held_against_for_as_long_as_it_takes_to_count() {
    // Two windows make it count. After ten it stands at four, the most: behind the first window without it at three,
    // behind the second at two, which still counts, behind the third it is over.
    let (load, mut state) = (LoadCriteria::default(), LoadState::default());
    assert_eq!(load.sustain(), 2);
    let mut weigh = |sign| load.weigh(&mut state, sign);
    let one = LoadSigns::TUBE_LOSS;
    assert_eq!(weigh(one), LoadVerdict::NoSign);
    for _ in 1..10 {
        assert_eq!(weigh(one), LoadVerdict::Hold(one));
    }
    let gone = [(); 3].map(|()| weigh(LoadSigns::NONE));
    let hold = LoadVerdict::Hold(one);
    assert_eq!(gone, [hold, hold, LoadVerdict::NoSign]);
}

/// So many own breaths of a length and a volume.
fn alike(count: u32, length_ms: u32, volume: Volume) -> Tally {
    let mut tally = Tally::default();
    for _ in 0..count {
        let own = breath(BreathKind::Own, length_ms, 0);
        tally.take(&TrendBreath { volume: Some(volume), ..own });
    }
    tally
}

#[test]
fn what_just_reaches_a_limit_by_weight_is_no_sign() {
    // 3.125 kg: a dead space of 3.125 x 3.28 = 10.25 mL; 30 mL/kg beyond it are 93.75 mL a minute, 125 mL/kg are
    // 390.625, 2.5 mL/kg are 7.812 5. Volumes are summed in steps of 1/256 mL.
    let mass = Mass::from_grams(3_125).unwrap();
    let load = LoadCriteria::default().with_weight(mass);
    let signs = |tally: &Tally| load.by_weight(tally, Some(&Tally::default()), None);
    let (step, space) = (
        Volume::from_int(1).halved(8),
        crate::bedside::anatomical_dead_space(mass, Duration::ZERO).value,
    );
    // 60/min of 11.812 5 mL: (11.812 5 - 10.25) x 60 = 93.75 beyond.
    let exact = Volume::from_int(189).halved(4);
    let beyond = alike(60, 1_000, exact).alveolar_volume(space);
    assert_eq!(beyond, Some(Volume::from_milli(93_750).value));
    assert_eq!(signs(&alike(60, 1_000, exact)), LoadSigns::NONE);
    let less = exact.saturating_sub(step).value;
    assert_eq!(signs(&alike(60, 1_000, less)), LoadSigns::LESS_ALVEOLAR);
    // 50/min of 7.812 5 mL: 390.625, all under the dead space.
    let exact = Volume::from_int(125).halved(4);
    let minute = alike(50, 1_200, exact).minute_volume();
    assert_eq!(minute, Some(Volume::from_milli(390_625).value));
    assert_eq!(signs(&alike(50, 1_200, exact)), LoadSigns::LESS_ALVEOLAR);
    let less = exact.saturating_sub(step).value;
    let all = LoadSigns::LESS_ALVEOLAR.with(LoadSigns::LITTLE_VOLUME).with(LoadSigns::SMALL);
    assert_eq!(signs(&alike(50, 1_200, less)), all);
    // Two in four under the dead space are not most of them, three are.
    for (shallow, want) in [(2, LoadSigns::NONE), (3, LoadSigns::SMALL)] {
        let mut tally = Tally::default();
        for i in 0..60 {
            let own = breath(BreathKind::Own, 1_000, 20_000);
            tally.take(&TrendBreath { shallow: i % 4 < shallow, ..own });
        }
        assert_eq!(signs(&tally), want, "{shallow} in four");
    }
}

#[test]
fn a_little_more_lost_in_the_tube_is_no_harder_draw() {
    // 50 cmH2O/(L/s): 2 cmH2O at 40 mL/s. A quarter more are 2.5 at 50 mL/s, which is also half a cmH2O more.
    let tube =
        TubeResistance::new(crate::quantity::Resistance::from_int(50), fixed::types::I16F16::ZERO)
            .unwrap();
    let load = LoadCriteria::default().with_tube(tube);
    let at = |flow| {
        let mut tally = Tally::default();
        let own = breath(BreathKind::Own, 1_000, 5_000);
        tally.take(&TrendBreath { peak_flow: Flow::from_int(flow), ..own });
        tally
    };
    for (then, now, want) in [
        (40, 40, false),
        (40, 49, false),
        (40, 51, true),
        // 1 and 1.45: nearly half more, but not half a cmH2O; 6 and 7: a whole one, but a sixth.
        (20, 29, false),
        (120, 140, false),
    ] {
        assert_eq!(load.draws_harder(&at(now), &at(then)), want, "{then} then, {now} mL/s now");
    }
}

#[test]
fn less_than_the_step_before_is_a_sign_though_no_less_than_at_its_own_beginning() {
    // 60/min of 6 mL, 360 mL/min, before the step; 60/min of 4 mL, 240, all along it: a third less.
    let [before, now] = [6, 4].map(|ml| alike(60, 1_000, Volume::from_int(ml)));
    let usual = Comparison::of(&now, &now).unwrap();
    let step = Comparison::of(&now, &before).unwrap();
    let twice = Share::from_percent(30);
    assert!(!usual.has_less(twice) && step.has_less(twice));
    let (trend, load) = (Trend::default(), LoadCriteria::default());
    let (mut minutes, mut state) = (TrendState::default(), LoadState::default());
    for second in 1..=1_200_u64 {
        let at = Instant::from_us(second * 1_000_000);
        if second == 600 {
            trend.rebase(&mut minutes, at);
            load.rebase(&mut state);
        }
        let own = breath(BreathKind::Own, 1_000, if second < 600 { 6_000 } else { 4_000 });
        if trend.breath(&mut minutes, at, &own) {
            let _ = load.judge(&mut state, &trend, &minutes, || false);
        }
    }
    assert_eq!(state.verdict(), LoadVerdict::StepBack(LoadSigns::LESS_VOLUME));
}

#[test]
fn a_sign_counts_against_a_step_for_twice_its_time_at_most() {
    // Three windows make it count; after ten it stands at six, the most: three without it leave it at three, which
    // still counts, the fourth does not.
    let load = LoadCriteria::new(Share::from_percent(15), 3).unwrap();
    let mut state = LoadState::default();
    let one = LoadSigns::TUBE_LOSS;
    for _ in 0..10 {
        let _ = load.weigh(&mut state, one);
    }
    let gone = [(); 4].map(|()| load.weigh(&mut state, LoadSigns::NONE));
    let hold = LoadVerdict::Hold(one);
    assert_eq!(gone, [hold, hold, hold, LoadVerdict::NoSign]);
}

#[test]
fn volumes_that_are_not_known_are_no_sign() {
    let mass = Mass::from_grams(3_125).unwrap();
    let load = LoadCriteria::default().with_weight(mass);
    assert_eq!((load.weight(), load.tube()), (Some(mass), None));
    let mut unknown = Tally::default();
    for _ in 0..60 {
        unknown.take(&TrendBreath { volume: None, ..breath(BreathKind::Own, 1_000, 0) });
    }
    assert_eq!(load.by_weight(&unknown, Some(&unknown), None), LoadSigns::NONE);
    // 60/min of 15 mL are 285 beyond a dead space of 10.25; where there was nothing beyond it, none has fallen.
    let [now, space] = [15_000, 10_250].map(|milli| Volume::from_milli(milli).value);
    let (now, then) = (alike(60, 1_000, now), alike(60, 1_000, space));
    assert_eq!(load.by_weight(&now, Some(&then), Some(&then)), LoadSigns::NONE);
    let none =
        TubeResistance::new(crate::quantity::Resistance::from_int(30), fixed::types::I16F16::ZERO);
    assert_eq!(load.with_tube(none.unwrap()).tube(), none.ok());
}

#[test]
fn ten_breaths_that_no_machine_assures_are_compared_alone() {
    // So many own breaths of 4 mL beside 60 assured of 6.
    let mixed = |own: u32, milli: i32| {
        let mut tally = Tally::default();
        for _ in 0..own {
            tally.take(&breath(BreathKind::Own, 1_000, milli));
        }
        for _ in 0..60 {
            tally.take(&breath(BreathKind::Assured, 1_000, 6_000));
        }
        tally
    };
    let volume = |own| Comparison::of(&mixed(own, 4_000), &mixed(own, 5_000)).unwrap().volume;
    let ml = |milli| Volume::from_milli(milli).value;
    assert_eq!(volume(10), (ml(4_000), ml(5_000)));
    let (now, then) = volume(9);
    // (9 x 4 + 60 x 6) / 69 = 5.74 and (9 x 5 + 360) / 69 = 5.87.
    assert!(now > ml(5_700) && then > ml(5_800), "{now} {then}");
}
