//! What holds just at a bound: the last value on one side of it and the first on the other.

use tidevane::alarm::{
    Alarms, Apnoea, BreathKind, Condition, Disconnection, Level, LevelAdvice, LimitAlarm, Limits,
    NoLevel, ShortApnoea, VitalSigns, VolumeHistory,
};
use tidevane::breath::{Breath, Kind, PhaseIntegrals};
use tidevane::leak::{
    Leak, LeakOfExpired, LeakPath, LeakPathState, LeakWindowState, LungVolume, NoLeak,
    NoLungVolume, VolumeCredibility,
};
use tidevane::monitor::{BreathReport, Breathing, Breaths, EventKind, Monitor, Report, Settings};
use tidevane::quantity::{Duration, Flow, Instant, Mass, Pressure, Rate, Saturated, Share, Volume};
use tidevane::signal::{End, Interval, Reading};
use tidevane::trigger::{Cause, Threshold};
use tidevane::volume::Limiter;
use tidevane_support::parts::{self, Part};
use tidevane_support::recordings::breaths;

/// Breaths of 9 mL: half a sine of 0.3 s in and one out, 0.6 s quiet; a leak on top.
fn pattern(seconds: u64, leak: f64) -> Vec<(u64, Reading)> {
    (0..seconds * 100)
        .map(|i| {
            let (part, x) = (i % 120 / 30, i % 30);
            let sine = 15.0 * std::f64::consts::PI * (x as f64 * 6_f64.to_radians()).sin();
            let (flow, pressure) = match part {
                0 => (sine, 15.0),
                1 => (-sine, 5.0),
                _ => (0.0, 5.0),
            };
            // No sensor repeats itself to the last bit.
            let (flow, pressure) = (flow + 0.01 * (i % 3) as f64, pressure + 0.01 * (i % 2) as f64);
            let bits = |x: f64| (x * 65_536.0) as i32;
            let flow = Flow::from_bits(bits(flow + leak * pressure.sqrt()));
            (i * 10_000, Reading { flow, pressure: Pressure::from_bits(bits(pressure)) })
        })
        .collect()
}

#[test]
fn a_leak_of_the_expired_volume_keeps_its_sign() {
    // B ÷ (1 + B): 0.25 → 0.2, −0.5 → −1, 0 → 0; at −1 nothing was inspired.
    let of = |percent| LeakOfExpired(Share::from_percent(percent)).of_inspired();
    assert_eq!(of(25), Some(Leak::Share(Share::from_bits(13_107)))); // 0.2 × 65 536 = 13 107.2
    assert_eq!(of(-50), Some(Leak::Negative(Share::from_percent(-100))));
    assert_eq!(of(0), Some(Leak::Share(Share::ZERO)));
    assert_eq!(of(-100), None);
}

#[test]
fn a_leak_above_one_half_is_hopeless() {
    let mut window = LeakWindowState::<3>::default();
    let mut path = LeakPathState::default();
    assert_eq!((window.leak(), path.belief()), (Leak::Unknown(NoLeak::NoBreath), None));
    let seen = breaths(Settings::default(), &pattern(12, 2.0));
    let trusted: Vec<_> = seen.iter().filter(|b| b.breath.is_trusted()).collect();
    assert!(trusted.len() >= 5, "{}", trusted.len());
    for closed in trusted {
        window.learn(&closed.breath);
        LeakPath::default().learn(&mut path, &closed.breath);
        assert!(window.leak().share().is_some());
    }
    // In: 9 mL and 2·√15 × 0.3 s = 2.3 mL of leak; out: 9 mL less 2·√5 × 0.9 s = 4 mL. The leak
    // takes 6.3 of 11.3 mL: above one half.
    assert_eq!(path.belief(), Some(VolumeCredibility::TargetingHopeless));
}

#[test]
fn an_expired_volume_beyond_its_range_says_so() {
    let seen = breaths(Settings::default(), &pattern(12, 0.0));
    let closed = seen.last().unwrap();
    let exact = closed.breath.expired;
    assert_eq!(exact.within().map(|v| v > Volume::from_int(8)), Some(true));
    let end = End { flow: Flow::MAX, ..End::default() };
    let span = Duration::from_us(1 << 30);
    let much = PhaseIntegrals::of(&Interval { span, from: end, to: end, ..Interval::default() });
    let [_, expired] = Breath::volumes(&closed.breath.inspiration, &much);
    // +32 768 mL clamped, counted outward: −32 768 mL, still clamped.
    let (value, saturated) = (Volume::from_bits(-i32::MAX), true);
    assert_eq!(expired, Saturated { value, saturated });
}

#[test]
fn a_level_is_advised_from_the_least_breaths_on() {
    let mut history = VolumeHistory::default();
    let advice = LevelAdvice::new(Volume::from_int(1), 95).unwrap();
    let mut first = None;
    let closed = breaths(Settings::default(), &pattern(12, 0.0));
    let trusted = closed.iter().find(|b| b.breath.is_trusted()).unwrap();
    for n in 1..60_u32 {
        let mut trusted = *trusted;
        trusted.breath.end = Instant::from_us(u64::from(n) * 1_000_000);
        history.learn(&trusted.view());
        let none = Level::None(NoLevel::TooFewBreaths);
        let level = advice.advise(&history, trusted.kind);
        if level != none {
            first.get_or_insert(n);
        }
        assert_eq!(advice.advise(&history, BreathKind::Supported), none, "{n}");
    }
    assert_eq!(first, Some(30));
}

#[test]
fn a_report_that_is_kept_drops_what_it_held() {
    let mut monitor = Monitor::new(Settings::default());
    let (mut report, mut closed) = (Report::default(), 0);
    for (us, reading) in pattern(12, 0.0) {
        let held = report.breath.is_some();
        monitor.push_at_into(Instant::from_us(us), reading, &mut report);
        assert!(!(held && report.breath.is_some()), "no two samples in turn close a breath");
        closed += u32::from(report.breath.is_some());
    }
    assert!((5..12).contains(&closed), "{closed}");
}

#[test]
fn a_slow_heart_reaches_the_apnoea_alarm_through_the_monitor() {
    // Apnoea of 20 s by default; with a heart rate of 75 the short one rings after 10 s.
    let apnoea = Apnoea::default().with_short(ShortApnoea::default());
    let alarms = Alarms { apnoea, ..Alarms::default() };
    let settings = Settings::builder().alarms(alarms).build().unwrap();
    for (heart_rate, rings) in [(Some(75), true), (Some(140), false)] {
        let mut monitor = Monitor::new(settings);
        monitor.set_vital_signs(VitalSigns { heart_rate, saturation: None });
        let mut rang = false;
        let breathing = pattern(12, 0.0);
        let last = breathing.last().unwrap().0;
        // Then nothing but the sensor's own unrest.
        let quiet = (1..1_500_u64).map(|i| {
            let flow = Flow::from_bits(655 * i32::try_from(i % 3).unwrap());
            let pressure = Pressure::from_bits((5 << 16) + 655 * i32::try_from(i % 2).unwrap());
            (last + i * 10_000, Reading { flow, pressure })
        });
        for (us, reading) in breathing.into_iter().chain(quiet) {
            let report = monitor.push_at(Instant::from_us(us), reading);
            rang |= report.events.iter().any(|event| match event.what {
                EventKind::Alarm(alarm) => alarm.condition == Condition::Apnoea,
                _ => false,
            });
        }
        assert_eq!(rang, rings, "{heart_rate:?}");
    }
}

#[test]
fn times_far_ahead_tell_of_what_lies_between_them_up_to_ten_seconds() {
    let blind = |apart: u64| {
        let mut monitor = Monitor::new(Settings::default());
        let breathing = pattern(8, 0.0);
        for &(us, reading) in &breathing {
            let _ = monitor.push_at(Instant::from_us(us), reading);
        }
        let (last, reading) = *breathing.last().unwrap();
        for ahead in [100_000_000, 100_000_000 + apart] {
            let _ = monitor.push_at(Instant::from_us(last + ahead), reading);
        }
        monitor.blind()
    };
    // The first is an interval of 10 ms; 10 s more are believed, a microsecond more is another interval.
    assert_eq!(blind(10_000_000), Duration::from_millis(10_010));
    assert_eq!(blind(10_000_001), Duration::from_millis(20));
}

#[test]
fn a_trend_takes_what_came_out_below_a_tenth_of_leak() {
    let closed = breaths(Settings::default(), &pattern(12, 0.0));
    let mut trusted = *closed.iter().rfind(|b| b.breath.is_trusted()).unwrap();
    trusted.lung = LungVolume::Unknown(NoLungVolume::TooUncertain);
    let tenth = Share::from_percent(10);
    trusted.leak_window = Leak::Share(tenth);
    assert_eq!(parts::of(&trusted.for_trend())["volume"], [Part::Code(0)]);
    trusted.leak_window = Leak::Share(tenth.saturating_sub(Share::from_bits(1)).value);
    let expired = trusted.breath.expired.within().unwrap().to_bits();
    let known = [Part::Code(1), Part::Number(expired.into(), 16)];
    assert_eq!(parts::of(&trusted.for_trend())["volume"], known);
}

#[test]
fn a_share_out_of_range_is_none_and_one_of_nothing_is_zero() {
    // 30 000 mL lost or gained beside 1/65 536 mL in.
    let least = Volume::from_bits(1);
    for expired in [-30_000, 30_000] {
        let leak = Leak::of(least, Volume::from_int(expired));
        assert_eq!(leak, Leak::Unknown(NoLeak::OutOfRange), "{expired} mL out");
    }
    // As much out as in leaks nothing, which is no leak below zero.
    assert_eq!(Leak::of(least, least), Leak::Share(Share::ZERO));
}

#[test]
fn limits_of_their_own_hold_to_their_ends() {
    // Each setting at its end, and a step beyond.
    let ms = Duration::from_millis;
    let (percent, bit) = (Share::from_percent, Share::from_bits(1));
    let over = |share: Share| share.saturating_add(bit).value;
    let loss = |level, hysteresis| Disconnection::new(level, hysteresis, 3, false).is_ok();
    assert!(loss(Share::ONE, percent(50)) && loss(percent(50), Share::ZERO));
    assert!(!loss(over(Share::ONE), percent(50)) && !loss(Share::ONE, over(percent(50))));
    let delay = |delay| {
        LimitAlarm::new(Limits::new(None, None).unwrap(), delay, Volume::ZERO, false).is_ok()
    };
    assert!(delay(ms(600_000)) && !delay(Duration::from_us(600_000_001)));
    let limiter = |delay| Limiter::new(Volume::from_int(5), delay).is_ok();
    assert!(limiter(ms(500)) && !limiter(Duration::from_us(500_001)));
    let threshold = |flow: Flow| Threshold::new(flow).is_ok();
    let most = Flow::from_int(1_000);
    assert!(threshold(most) && !threshold(most.saturating_add(Flow::from_bits(1)).value));
    assert!(Mass::from_grams(200).is_ok() && Mass::from_grams(199).is_err());
    // A set rate of 150 a minute; support as high as the peak.
    let set = |rate: Rate, support: i32| {
        let support = Pressure::from_milli(support).value;
        let builder = Settings::builder().set_rate(rate).peak(Pressure::from_int(20));
        builder.support_peak(support).build().is_ok()
    };
    let fast = Rate::from_int(150);
    assert!(set(fast, 20_000) && !set(fast, 20_001));
    assert!(!set(fast.saturating_add(Rate::from_bits(1)).value, 20_000));
}

#[test]
fn an_inspiration_that_the_infant_ended_shows_in_three_signs() {
    // 15 over 5 cmH2O, out at 5 mL/s while 12.5, three quarters of the rise, still stood; 40 mL/s in at most.
    let cmh2o = |milli| Pressure::from_milli(milli).value;
    let told = |change: fn(&mut Breath)| {
        let mut breath = Breath::default();
        (breath.peak, breath.baseline) = (cmh2o(15_000), cmh2o(5_000));
        (breath.kind, breath.end_insp_pressure) = (Kind::Inflation, cmh2o(12_500));
        (breath.early_out, breath.peak_insp_flow) = (Flow::from_int(5), Flow::from_int(40));
        change(&mut breath);
        breath.is_ended_by_infant(Flow::from_int(4))
    };
    assert!(told(|_| ()));
    assert!(!told(|breath| breath.kind = Kind::Own));
    assert!(!told(|breath| breath.end_insp_pressure = Pressure::from_milli(12_499).value));
    assert!(!told(|breath| breath.early_out = Flow::from_int(4)));
    // A sixteenth of 96 mL/s is 6, above the noise of 4.
    assert!(!told(|breath| breath.peak_insp_flow = Flow::from_int(96)));
}

#[test]
fn a_trend_takes_whose_breath_it_was_from_its_kind_and_cause() {
    let settings = Settings::builder().threshold(Threshold::new(Flow::from_int(4)).unwrap());
    let closed = breaths(settings.build().unwrap(), &pattern(12, 0.0));
    let inflation = closed.iter().rfind(|b| b.initiation.is_some()).unwrap();
    let code = |yes: bool| vec![Part::Code(yes.into())];
    let whose = |closed: &BreathReport| {
        let parts = parts::of(&closed.for_trend());
        ["by_infant", "self_cycled"].map(|part| parts[part].clone())
    };
    for (cause, by_infant, self_cycled) in [
        (Cause::Timed, false, false),
        (Cause::Effort, true, false),
        (Cause::SelfLeak, false, true),
        (Cause::SelfRipple, false, true),
    ] {
        let mut closed = *inflation;
        closed.initiation.as_mut().unwrap().cause = cause;
        assert_eq!(whose(&closed), [by_infant, self_cycled].map(code), "{cause:?}");
    }
    let mut own = *inflation;
    (own.initiation, own.breath.kind) = (None, Kind::Own);
    assert_eq!(whose(&own), [true, false].map(code));
}

#[test]
fn a_sensor_fault_alone_leaves_it_untold_whether_the_infant_breathes() {
    let mut monitor = Monitor::new(Settings::default());
    for (us, reading) in pattern(12, 0.0) {
        let _ = monitor.push_at(Instant::from_us(us), reading);
    }
    assert_eq!((monitor.breathing(), monitor.blind()), (Breathing::Breathes, Duration::ZERO));
    // Three seconds of samples lost, 10 ms each: the fault rings after 2 s, no input after 10.
    for _ in 0..300 {
        let _ = monitor.lost();
    }
    assert_eq!(monitor.blind(), Duration::from_millis(3_000));
    let on = |condition| monitor.alarms().is_on(condition);
    assert!(on(Condition::SensorFault) && !on(Condition::NoInput));
    assert_eq!(monitor.breathing(), Breathing::CannotTell);
}

#[test]
fn breaths_alone_are_cut_out_by_their_settings() {
    // A zero of 3 mL/s that is known: the same breaths as without it.
    let of = |settings: &Settings, off: i16| {
        let mut breaths = Breaths::new(settings);
        let mut out = Vec::new();
        for (us, reading) in pattern(12, 0.0) {
            let flow = reading.flow.saturating_add(Flow::from_int(off)).value;
            out.extend(breaths.push_at(Instant::from_us(us), Reading { flow, ..reading }));
        }
        // What is told by the samples after it is told where these are lost, too.
        out.extend((0..4).filter_map(|_| breaths.lost()));
        out
    };
    let known = Settings::builder().flow_offset(Flow::from_int(3)).build().unwrap();
    let (plain, off) = (of(&Settings::default(), 0), of(&known, 3));
    assert!(plain.len() >= 8, "{} breaths of 12 s", plain.len());
    assert_eq!(plain, off);
}
