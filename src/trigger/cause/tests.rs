use super::*;
use crate::breath::{EndExpiration, TriggerPhase};
use std::string::ToString;

fn ml_s(milli: i32) -> Flow {
    Flow::from_milli(milli).value
}

/// A threshold of 4 mL/s; leak, reach, what the trigger saw, all in mL/s/1000; lead in ms.
fn evidence(leak: i32, reach: i32, sensed: i32, lead: u32) -> TriggerEvidence {
    TriggerEvidence {
        sensed: ml_s(sensed),
        deflection: ml_s(sensed - leak).max(Flow::ZERO),
        lead: Duration::from_millis(lead),
        leak: ml_s(leak),
        noise: Noise { reach: ml_s(reach), spread: ml_s(reach / 3) },
        threshold: Some(ml_s(4_000)),
        pull: None,
        interval: Some(Duration::from_millis(900)),
        on_time: None,
        ended_by_infant: false,
    }
}

#[test]
fn each_cause_has_its_evidence() {
    // Nothing near the threshold was seen: the timer.
    assert_eq!(evidence(500, 300, 900, 0).cause(), Cause::Timed);
    // 5 mL/s seen over 80 ms, leak and noise far below: the infant.
    assert_eq!(evidence(500, 300, 5_000, 80).cause(), Cause::Effort);
    // The same within 8 ms is the machine's own flow.
    assert_eq!(evidence(500, 300, 5_000, 8).cause(), Cause::Timed);
    // The leak alone is above: self-cycled, unless the infant clearly pulled.
    assert_eq!(evidence(4_500, 300, 4_600, 5).cause(), Cause::SelfLeak);
    let pulled = TriggerEvidence { ended_by_infant: true, ..evidence(4_500, 300, 9_000, 60) };
    assert_eq!(pulled.cause(), Cause::Effort);
    // On time with little more than the threshold seen, the timer came first.
    let due = TriggerEvidence { on_time: Some(true), ..evidence(4_200, 300, 4_300, 5) };
    assert_eq!(due.cause(), Cause::Timed);
    // A timer that was not due is never said: the infant where the infant ended the inspiration,
    // else the machine itself on what was not seen.
    let early = TriggerEvidence { on_time: Some(false), ..evidence(500, 300, 900, 0) };
    assert_eq!(early.cause(), Cause::SelfRipple);
    assert_eq!(TriggerEvidence { ended_by_infant: true, ..early }.cause(), Cause::Effort);
    // Ripple reaches it: 1 + 3.2 mL/s; an inspiration that the infant ended is the infant's.
    let ripple = evidence(1_000, 3_200, 4_100, 60);
    assert_eq!(ripple.cause(), Cause::SelfRipple);
    assert_eq!(TriggerEvidence { ended_by_infant: true, ..ripple }.cause(), Cause::Effort);
}

#[test]
fn a_verdict_prints_as_one_sentence() {
    let evidence = evidence(500, 300, 5_000, 80);
    let initiation = Initiation { cause: evidence.cause(), evidence: Some(evidence) };
    assert_eq!(
        initiation.to_string(),
        "Started by the infant: the sensor saw 0.30 L/min (leak 0.03) over 0.080 s before the \
         pressure rose, threshold 0.24, ripple and noise reach 0.02, 0.900 s after the \
         inflation before."
    );
    let unknown = Initiation { cause: Cause::Unknown(NoCause::NoThreshold), evidence: None };
    assert_eq!(unknown.to_string(), "The cause cannot be told: no trigger threshold was given.");
}

/// In thousandths of cmH2O, with a ripple of 0.1.
fn pulled_by(size: i32) -> Option<Pull> {
    let milli = |x: i32| Pressure::from_milli(x).value;
    Some(Pull { size: milli(size), ripple: milli(100) })
}

#[test]
fn the_muscle_pressure_decides_where_ripple_may() {
    // Of 4 mL/s 0.5 leak and 2.3 ripple reach 2.8, more than 11/16 = 2.75. Over 60 ms a deflection of
    // 6.4 − 0.5 is more than 2.5 × 2.3 = 5.75, one of 6.2 − 0.5 is not.
    let pulled = |sensed, pull, ended| TriggerEvidence {
        pull: pulled_by(pull),
        ended_by_infant: ended,
        ..evidence(500, 2_300, sensed, 60)
    };
    assert_eq!(pulled(6_400, -2_000, false).cause(), Cause::Effort);
    assert_eq!(pulled(6_200, 999, false).cause(), Cause::SelfRipple);
    assert_eq!(pulled(6_200, 1_000, false).cause(), Cause::Effort);
    assert_eq!(pulled(6_200, 299, true).cause(), Cause::SelfRipple);
    assert_eq!(pulled(6_200, 300, true).cause(), Cause::Effort);
    // Short, of less than 1.5 × 4 mL/s, and the muscle pressure went the other way: a burst, though it
    // is more than 2.5 times the ripple that was seen.
    let short = |reach, pull| TriggerEvidence {
        lead: Duration::from_millis(39),
        pull: pulled_by(pull),
        ..evidence(500, reach, 5_900, 39)
    };
    assert_eq!(short(2_100, -300).cause(), Cause::SelfRipple);
    assert_eq!(short(2_100, -299).cause(), Cause::Effort);
    let longer = TriggerEvidence { lead: Duration::from_millis(40), ..short(2_100, -300) };
    assert_eq!(longer.cause(), Cause::Effort);
    assert_eq!(
        TriggerEvidence { ended_by_infant: true, ..short(2_100, -300) }.cause(),
        Cause::Effort
    );
    assert_eq!(
        TriggerEvidence { sensed: ml_s(6_000), ..short(2_100, -300) }.cause(),
        Cause::Effort
    );
    // That from 3/8 = 1.5 on: 0.5 and 1; less ripple does not burst.
    assert_eq!(short(1_000, -300).cause(), Cause::SelfRipple);
    assert_eq!(short(999, -300).cause(), Cause::Effort);
    // Far below the threshold no ripple fires.
    let calm = TriggerEvidence { pull: pulled_by(0), ..evidence(500, 2_000, 4_100, 60) };
    assert_eq!(calm.cause(), Cause::Effort);
    // What is ripple's by its flow takes more to be the infant's.
    let ripple =
        |pull| TriggerEvidence { pull: pulled_by(pull), ..evidence(1_000, 3_200, 4_100, 60) };
    assert_eq!(ripple(1_599).cause(), Cause::SelfRipple);
    assert_eq!(ripple(1_600).cause(), Cause::Effort);
}

#[test]
fn without_a_threshold_muscle_and_timer_decide() {
    let told = |pull: Option<i32>, on_time| {
        let pull = pull.and_then(pulled_by);
        TriggerEvidence { threshold: None, pull, on_time, ..evidence(500, 300, 900, 0) }.cause()
    };
    assert_eq!(told(Some(1_000), Some(true)), Cause::Effort);
    assert_eq!(told(Some(999), Some(true)), Cause::Timed);
    let unknown = Cause::Unknown(NoCause::NoThreshold);
    assert_eq!(told(Some(999), Some(false)), unknown);
    assert_eq!(told(Some(0), None), unknown);
    assert_eq!(told(None, Some(true)), unknown);
}

#[test]
fn settings_are_checked() {
    let error = CauseCheck::new(None, Some(Rate::from_int(-1))).unwrap_err();
    assert_eq!((error.parameter, error.problem), ("set_rate", Problem::Negative));
}

#[test]
fn the_timer_counts_from_the_last_inflation_that_it_assures() {
    // 30 /min: due after 2 s, less a twentieth. At 0 s an assured one, at 1 s support, at 2 s due;
    // where the one at 1 s was assured too it is not.
    let check = CauseCheck::new(Some(ml_s(4_000)), Some(Rate::from_int(30))).unwrap();
    let floor = Some(NoiseFloor { leak: ml_s(500), ..NoiseFloor::default() });
    let on_time = |second_is_assured: bool| {
        let mut state = CauseState::default();
        let mut last = None;
        for s in 0..3 {
            let onset = Instant::from_us(s * 1_000_000);
            let lead = TriggerPhase { until: onset, ..TriggerPhase::default() };
            let breath = Breath { kind: Kind::Inflation, onset, lead, ..Breath::plain() };
            let initiation = check.step(&mut state, &breath, floor, None, None);
            last = initiation.and_then(|i| i.evidence).and_then(|e| e.on_time);
            if s == 0 || second_is_assured {
                state.assured();
            }
        }
        last
    };
    assert_eq!((on_time(false), on_time(true)), (Some(true), Some(false)));
}

#[test]
fn what_stands_just_at_a_border_is_on_its_documented_side() {
    // Of 4 mL/s; flows in mL/s/1000. Leak, reach, sensed, lead in ms, timer due, ended by the infant.
    let told = |leak, reach, sensed, lead, due: bool, ended_by_infant| {
        let on_time = due.then_some(true);
        TriggerEvidence { on_time, ended_by_infant, ..evidence(leak, reach, sensed, lead) }.cause()
    };
    for (is, at, off, beyond) in [
        // Seven eighths are 3.5: less was seen of a leak that reaches 15/16, 3.75.
        ("seen", (3_750, 300, 3_500, 0, false, false), Cause::SelfLeak, (3_750, 300, 3_499, 0)),
        // Leak and ripple beyond 1.25 thresholds: 5.
        ("hidden", (500, 4_500, 900, 0, false, false), Cause::Timed, (500, 4_501, 900, 0)),
        // The leak is above; the timer was due, and 9/8, 4.5, were seen.
        ("due", (4_200, 300, 4_500, 5, true, false), Cause::SelfLeak, (4_200, 300, 4_499, 5)),
        // Leak and ripple 4; a deflection of 1.5 times 3.
        (
            "beyond",
            (1_000, 3_000, 5_500, 60, false, false),
            Cause::SelfRipple,
            (1_000, 3_000, 5_501, 60),
        ),
        // Leak and ripple 9/8 of it, and the timer due.
        (
            "late",
            (1_000, 3_500, 4_100, 60, true, false),
            Cause::SelfRipple,
            (1_000, 3_499, 4_100, 60),
        ),
        // Three quarters of it are 3.
        (
            "share",
            (3_000, 1_000, 4_100, 5, false, false),
            Cause::SelfRipple,
            (3_001, 1_000, 4_100, 5),
        ),
        // A leak above; six times 0.5, and twice that where the infant ended it.
        ("six", (4_500, 500, 7_500, 60, false, false), Cause::SelfLeak, (4_500, 500, 7_501, 60)),
        ("twice", (4_500, 500, 5_500, 60, false, true), Cause::SelfLeak, (4_500, 500, 5_501, 60)),
        // Such a deflection lasts 25 ms.
        ("lead", (4_500, 500, 7_501, 24, false, false), Cause::SelfLeak, (4_500, 500, 7_501, 25)),
    ] {
        let (leak, reach, sensed, lead, due, ended) = at;
        assert_eq!(told(leak, reach, sensed, lead, due, ended), off, "{is}: at the border");
        let (leak, reach, sensed, lead) = beyond;
        assert_ne!(told(leak, reach, sensed, lead, due, ended), off, "{is}: beyond it");
    }
    // An inspiration that the infant ended does not speak for itself alone.
    assert_eq!(told(4_500, 500, 4_600, 60, false, true), Cause::SelfLeak);
}

#[test]
fn ripple_counts_from_its_documented_borders_on() {
    let told = |reach, sensed| {
        TriggerEvidence { pull: pulled_by(0), ..evidence(500, reach, sensed, 60) }.cause()
    };
    // 11/16 of 4 are 2.75: 0.5 and 2.25.
    assert_eq!((told(2_250, 4_100), told(2_249, 4_100)), (Cause::SelfRipple, Cause::Effort));
    // 2.5 times 2.5 are 6.25, on 0.5.
    assert_eq!((told(2_500, 6_750), told(2_500, 6_751)), (Cause::SelfRipple, Cause::Effort));
}

#[test]
fn a_set_rate_of_none_is_none_and_the_first_interval_counts_from_the_first() {
    assert!(CauseCheck::new(None, Some(Rate::ZERO)).is_ok());
    let mut state = CauseState::default();
    let at = |s: u64| Instant::from_us(s * 1_000_000);
    assert_eq!(state.since_inflation(at(5)), None);
    let breath = Breath { kind: Kind::Inflation, onset: at(5), ..Breath::plain() };
    let _ = CauseCheck::default().step(&mut state, &breath, None, None, None);
    assert_eq!(state.since_inflation(at(7)), Some(Duration::from_millis(2_000)));
}

#[test]
fn names_and_who_it_was() {
    for (cause, name, itself) in [
        (Cause::Timed, "timed", false),
        (Cause::Effort, "effort", false),
        (Cause::SelfLeak, "self-leak", true),
        (Cause::SelfRipple, "self-ripple", true),
        (Cause::Unknown(NoCause::Flagged), "unknown", false),
    ] {
        let told = (cause.name(), cause.is_self_cycled());
        assert_eq!(told, (name, itself));
    }
    let calm = TriggerEvidence { noise: Noise::default(), ..evidence(500, 300, 5_000, 80) };
    let told = Initiation { cause: calm.cause(), evidence: Some(calm) }.to_string();
    assert!(told.contains("ripple and noise not known"), "{told}");
}

#[test]
fn a_leak_that_nearly_reaches_the_threshold_is_never_taken_for_water() {
    // 3.8 of 4 mL/s, from 15/16 on; 2 above it for 30 ms, more than six times 0.3, while the muscle pressure falls.
    let evidence = TriggerEvidence { pull: pulled_by(-300), ..evidence(3_800, 300, 5_800, 30) };
    assert_eq!(evidence.cause(), Cause::Effort);
}

#[test]
fn what_the_trigger_saw_is_counted_above_the_leak() {
    let check = CauseCheck::new(Some(ml_s(4_000)), None).unwrap();
    let floor = Some(NoiseFloor { leak: ml_s(500), ..NoiseFloor::default() });
    let seen = |peak| {
        let lead = TriggerPhase { peak: ml_s(peak), ..TriggerPhase::default() };
        let breath = Breath { kind: Kind::Inflation, lead, ..Breath::plain() };
        let told = check.step(&mut CauseState::default(), &breath, floor, None, None);
        told.and_then(|told| told.evidence).map(|evidence| evidence.deflection)
    };
    assert_eq!((seen(5_500), seen(400)), (Some(ml_s(5_000)), Some(Flow::ZERO)));
}

/// What is made of inflations whose pressure was up before quiet flow turned, or not, without a threshold near the flow.
fn causes(late: impl IntoIterator<Item = bool>, peak: i32) -> std::vec::Vec<Cause> {
    let check = CauseCheck::new(Some(ml_s(4_000)), None).unwrap();
    let floor = Some(NoiseFloor { leak: ml_s(500), ..NoiseFloor::default() });
    let mut state = CauseState::default();
    let told = late.into_iter().map(|late| {
        let onset = Instant::from_us(1_000_000);
        let until = onset.after(Duration::from_millis(if late { 0 } else { 80 }));
        let lead = TriggerPhase { until, peak: ml_s(peak) };
        let (quiet, rise) = (Some(EndExpiration::default()), Some(until));
        let breath = Breath {
            kind: Kind::Inflation,
            onset,
            lead,
            quiet,
            pressure_rise: rise,
            ..Breath::plain()
        };
        check.step(&mut state, &breath, floor, None, None).unwrap().cause
    });
    told.collect()
}

#[test]
fn flow_that_comes_after_its_pressure_names_no_timer() {
    use core::iter::repeat_n;
    let late = Cause::Unknown(NoCause::FlowLate);
    // Three in a row: twelve. Two are eight, and a thousand in time forget the first three.
    assert_eq!(causes([true; 4], 0), [Cause::Timed, Cause::Timed, late, late]);
    assert_eq!(causes([true, true, false, true, true], 0)[3..], [Cause::Timed, late]);
    let rest = causes(repeat_n(true, 3).chain(repeat_n(false, 1_000)), 0);
    // A thousand less 988 are twelve, one more is eleven.
    let first = rest.iter().rposition(|cause| *cause == late);
    assert_eq!(first, Some(2 + 988));
    // One in six says nothing: plus four, less five.
    assert!(!causes((0..600).map(|n| n % 6 == 0), 0).contains(&late));
    // A long deflection beyond the threshold is the infant's all the same.
    assert_eq!(causes([true, true, true, false], 5_000)[3], Cause::Effort);
}

#[test]
fn a_pull_speaks_against_the_timer_where_flow_lags() {
    let check = CauseCheck::new(Some(ml_s(4_000)), None).unwrap();
    let floor = Some(NoiseFloor { leak: ml_s(500), ..NoiseFloor::default() });
    let told = |pull: Option<Pull>, lag: Option<Duration>| {
        let lead = TriggerPhase { peak: ml_s(900), ..TriggerPhase::default() };
        let breath = Breath { kind: Kind::Inflation, lead, ..Breath::plain() };
        check.step(&mut CauseState::default(), &breath, floor, pull, lag).unwrap().cause
    };
    let cause = |milli, us| told(pulled_by(milli), Some(Duration::from_us(us)));
    // Neither known is neither.
    assert_eq!(told(None, Some(Duration::from_millis(9))), Cause::Timed);
    assert_eq!(told(pulled_by(2_000), None), Cause::Timed);
    // 5 ms and 1 cmH2O are the least.
    assert_eq!(cause(1_000, 5_000), Cause::Unknown(NoCause::FlowLate));
    assert_eq!((cause(999, 5_000), cause(1_000, 4_999)), (Cause::Timed, Cause::Timed));
}

#[test]
fn pressure_that_comes_after_its_flow_names_nobody() {
    let check = CauseCheck::new(Some(ml_s(4_000)), None).unwrap();
    let floor = Some(NoiseFloor { leak: ml_s(500), ..NoiseFloor::default() });
    let last = |lead: i32, rise: i16| {
        let lead = TriggerPhase { peak: ml_s(lead), until: Instant::from_us(80_000) };
        let breath = Breath {
            kind: Kind::Inflation,
            lead,
            peak_insp_flow: ml_s(40_000),
            peak: Pressure::from_int(5 + rise),
            baseline: Pressure::from_int(5),
            ..Breath::plain()
        };
        let mut state = CauseState::default();
        let mut told = || check.step(&mut state, &breath, floor, None, None).unwrap().cause;
        let (first, _, third) = (told(), told(), told());
        assert_eq!(first, Cause::Effort);
        third
    };
    // Three in a row at 30 of 40 mL/s, three quarters, before a rise of 8 cmH2O.
    assert_eq!(last(30_000, 8), Cause::Unknown(NoCause::PressureLate));
    assert_eq!((last(29_999, 8), last(30_000, 7)), (Cause::Effort, Cause::Effort));
}
