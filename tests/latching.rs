//! Latching alarms ring on after their condition until somebody has seen them; what another monitor
//! shows reaches the apnoea alarm.

use tidevane::alarm::{
    Alarms, AlarmsState, Apnoea, BreathKind, Change, Condition, Disconnection, LimitAlarm, Limits,
    Measure, ShortApnoea, VitalSigns,
};
use tidevane::quantity::{Duration, Instant, Pressure, Rate, Share, Volume};
use tidevane_support::view::View;

fn seconds(s: u64) -> Instant {
    Instant::from_us(s * 1_000_000)
}

fn ml(x: i16) -> Volume {
    Volume::from_int(x)
}

/// A breath at a time: all within the limits below, or all outside them.
fn breath(s: u64, good: bool) -> View {
    View {
        at: seconds(s),
        kind: BreathKind::Own,
        inspired: Some(ml(10)),
        expired: Some(ml(if good { 9 } else { 2 })),
        most_out: Some(ml(if good { 9 } else { 2 })),
        leak: Some(Share::from_percent(if good { 10 } else { 80 })),
        rate: Some(Rate::from_int(if good { 50 } else { 90 })),
        minute_volume: Some(ml(if good { 300 } else { 30 })),
        peak: Pressure::from_int(if good { 15 } else { 30 }),
        drawn: true,
        trusted: true,
    }
}

fn alarms(latching: bool) -> Alarms {
    let volume = |low| {
        let limits = Limits::new(Some(ml(low)), None).unwrap();
        LimitAlarm::new(limits, Duration::ZERO, Volume::ZERO, latching).unwrap()
    };
    let rate = Limits::new(None, Some(Rate::from_int(70))).unwrap();
    let pressure = Limits::new(None, Some(Pressure::from_int(25))).unwrap();
    let leak = Limits::new(None, Some(Share::from_percent(50))).unwrap();
    Alarms {
        apnoea: Apnoea::new(Duration::from_millis(20_000), latching).unwrap(),
        disconnection: Disconnection::new(Share::from_percent(50), Share::ZERO, 1, latching)
            .unwrap(),
        own_volume: volume(5),
        minute_volume: volume(100),
        rate: LimitAlarm::new(rate, Duration::ZERO, Rate::ZERO, latching).unwrap(),
        pressure: LimitAlarm::new(pressure, Duration::ZERO, Pressure::ZERO, latching).unwrap(),
        leak: LimitAlarm::new(leak, Duration::ZERO, Share::ZERO, latching).unwrap(),
        ..Alarms::default()
    }
}

/// All that a breath outside every limit sets off.
const SET_OFF: [Condition; 6] = [
    Condition::Disconnection,
    Condition::Low(Measure::Volume(BreathKind::Own)),
    Condition::Low(Measure::MinuteVolume),
    Condition::High(Measure::Rate),
    Condition::High(Measure::Pressure),
    Condition::High(Measure::Leak),
];

fn ringing(state: &AlarmsState) -> Vec<Condition> {
    Condition::all().filter(|c| state.is_on(*c)).collect()
}

#[test]
fn a_latching_alarm_waits_for_whoever_is_responsible() {
    let (alarms, mut state) = (alarms(true), AlarmsState::default());
    let _ = alarms.breath(&mut state, &breath(1, false).seen());
    let mut on = ringing(&state);
    on.sort_by_key(|c| SET_OFF.iter().position(|x| x == c));
    assert_eq!(on, SET_OFF);
    // The conditions are over: all ring on.
    for s in 2..8 {
        let _ = alarms.breath(&mut state, &breath(s, true).seen());
    }
    assert_eq!(ringing(&state).len(), SET_OFF.len());
    state.acknowledge();
    let _ = alarms.breath(&mut state, &breath(8, true).seen());
    let _ = alarms.breath(&mut state, &breath(9, true).seen());
    assert_eq!(ringing(&state), []);
}

#[test]
fn one_that_does_not_latch_stops_with_its_condition() {
    let (alarms, mut state) = (alarms(false), AlarmsState::default());
    let _ = alarms.breath(&mut state, &breath(1, false).seen());
    assert_eq!(ringing(&state).len(), SET_OFF.len());
    let _ = alarms.breath(&mut state, &breath(2, true).seen());
    assert_eq!(ringing(&state), []);
}

#[test]
fn a_latching_apnoea_is_seen_too() {
    let (alarms, mut state) = (alarms(true), AlarmsState::default());
    let _ = alarms.breath(&mut state, &breath(1, true).seen());
    let _ = alarms.tick(&mut state, seconds(22));
    assert_eq!(ringing(&state), [Condition::Apnoea]);
    let _ = alarms.breath(&mut state, &breath(23, true).seen());
    assert_eq!(ringing(&state), [Condition::Apnoea]);
    state.acknowledge();
    let events = alarms.breath(&mut state, &breath(24, true).seen());
    assert!(events.iter().any(|e| e.condition == Condition::Apnoea && e.change == Change::Off));
    assert_eq!(ringing(&state), []);
}

#[test]
fn a_slow_heart_shortens_the_pause() {
    // 12 s with a heart rate of 75 rings, without it 20 s are needed.
    let apnoea = Apnoea::new(Duration::from_millis(20_000), false).unwrap();
    let alarms = Alarms { apnoea: apnoea.with_short(ShortApnoea::default()), ..Alarms::default() };
    for (heart_rate, rings) in [(Some(75), true), (Some(140), false), (None, false)] {
        let mut state = AlarmsState::default();
        let _ = alarms.breath(&mut state, &breath(1, true).seen());
        alarms.set_vital_signs(&mut state, VitalSigns { heart_rate, saturation: None });
        let _ = alarms.tick(&mut state, seconds(13));
        assert_eq!(state.is_on(Condition::Apnoea), rings, "{heart_rate:?}");
    }
}
