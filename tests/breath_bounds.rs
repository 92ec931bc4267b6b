//! What holds just at a bound of a part of the breath: the last value on one side of it and the first on the other.

use tidevane::breath::{
    Breath, Implausible, Kind, OpenCircuit, Phase, PhaseIntegrals, Plausible, PlausibleState,
    Segmenter, SegmenterState, Totals, Unheard,
};
use tidevane::quantity::{Duration, Flow, Instant, Mass, Pressure, Saturated, Volume};
use tidevane::signal::{End, Flags, Interval};

fn at(ms: u64) -> Instant {
    Instant::from_us(ms * 1_000)
}

/// A reading's end: flow at the sensor and into the lung, and pressure.
fn end(flow: Flow, lung: Flow, pressure: Pressure) -> End {
    End { flow, lung, pressure, tip: pressure }
}

/// Ten ms up to a moment, between two ends.
fn ten_ms(until: u64, from: End, to: End) -> Interval {
    Interval { at: at(until), span: Duration::from_millis(10), from, to, ..Interval::default() }
}

/// Steady readings over so many ms.
fn steady(flow: Flow, pressure: Pressure, millis: u32) -> PhaseIntegrals {
    let (end, span) = (end(flow, flow, pressure), Duration::from_millis(millis));
    PhaseIntegrals::of(&Interval { span, from: end, to: end, ..Interval::default() })
}

/// Flows in mL/s 10 ms apart from zero on, as much into the lung as at the sensor; the breaths that are closed.
fn breathe(state: &mut SegmenterState, flows: &[(i16, i16)]) -> Vec<Breath> {
    let segmenter = Segmenter::default();
    let of = |(flow, lung): (i16, i16)| {
        end(Flow::from_int(flow), Flow::from_int(lung), Pressure::from_int(5))
    };
    segmenter.start(state, at(0), &of(flows[0]));
    let pairs = flows.windows(2).zip(1..);
    let step = |(pair, n): (&[(i16, i16)], u64)| {
        segmenter.step(state, &ten_ms(n * 10, of(pair[0]), of(pair[1])))
    };
    pairs.filter_map(step).collect()
}

#[test]
fn what_a_turn_under_way_moves_is_held_back() {
    // 200 ms of nothing, then up to 20 mL/s over 10 ms: 0.1 mL, which may be the beginning of a breath.
    let mut flows = vec![(0, 0); 21];
    flows.push((20, 20));
    let mut state = SegmenterState::default();
    assert_eq!(breathe(&mut state, &flows), []);
    let told = state.current();
    assert_eq!((told.span(), told.volume().value), (Duration::from_millis(200), Volume::ZERO));
    // Back to nothing for longer than a bubble lasts it was none: all counts, 0.1 mL and 0.1 on the way back.
    flows.extend([(0, 0); 29]);
    let mut state = SegmenterState::default();
    assert_eq!((breathe(&mut state, &flows), state.phase()), (vec![], Phase::Unknown));
    let (span, moved) = (state.current().span(), state.current().volume().value);
    assert_eq!(span, Duration::from_millis(500));
    assert!(moved.to_bits().abs_diff(Volume::from_milli(200).value.to_bits()) < 3, "{moved}");
}

#[test]
fn a_breath_of_which_nothing_came_out_ends_to_come_out_with_its_inspiration() {
    // In at 30 mL/s for 300 ms; the lung gives back 20 mL/s for 300 ms, all of it past the sensor.
    let mut flows = vec![(0, 0); 30];
    flows.extend([(30, 30); 30]);
    flows.extend([(0, -20); 30]);
    flows.extend([(30, 30); 30]);
    let closed = breathe(&mut SegmenterState::default(), &flows);
    assert_eq!(closed.len(), 1);
    let breath = closed[0];
    assert_eq!(
        (breath.expired, breath.most_out),
        (Saturated::exact(Volume::ZERO), Saturated::exact(Volume::ZERO))
    );
    assert_eq!(breath.out_until, breath.end_insp);
    // Where the sensor sees 20 mL/s of it, it comes out until the next turn.
    for pair in &mut flows[60..90] {
        pair.0 = -20;
    }
    let closed = breathe(&mut SegmenterState::default(), &flows);
    assert!(closed[0].out_until > closed[0].end_insp.after(Duration::from_millis(250)));
}

#[test]
fn two_stretches_last_as_long_as_both() {
    let one = steady(Flow::from_int(10), Pressure::from_int(5), 300);
    let both = one.with(&steady(Flow::ZERO, Pressure::from_int(15), 700));
    assert_eq!((both.span(), both.known()), (Duration::from_millis(1_000), both.span()));
    // 0.3 x 5 + 0.7 x 15 = 12 cmH2O; 10 x 0.3 mL.
    assert_eq!(both.mean_pressure(), Some(Pressure::from_int(12)));
    assert_eq!(both.volume(), Saturated::exact(Volume::from_int(3)));
}

#[test]
fn a_returned_volume_says_that_it_is_clamped_whichever_part_is() {
    let breath = |inward: PhaseIntegrals, outward: PhaseIntegrals, inspired| {
        let mut breath = Breath::default();
        (breath.inspiration, breath.expiration, breath.inspired) = (inward, outward, inspired);
        breath.returned()
    };
    let (none, exact) = (steady(Flow::ZERO, Pressure::ZERO, 1), Saturated::exact);
    let flow = |mls: i16, ms| steady(Flow::from_int(mls), Pressure::ZERO, ms);
    // 10 in and 8 out.
    let told = breath(flow(20, 500), flow(-16, 500), exact(Volume::from_int(10)));
    assert_eq!(told, exact(Volume::from_int(8)));
    // 40 000 mL kept; an inspired volume that was clamped; 30 000 less -30 000.
    assert!(breath(flow(20_000, 2_000), none, exact(Volume::ZERO)).saturated);
    let clamped = Saturated { value: Volume::from_int(10), saturated: true };
    assert!(breath(none, none, clamped).saturated);
    let much = exact(Volume::from_int(30_000));
    assert!(breath(none, flow(-30_000, 1_000), much).saturated);
}

#[test]
fn a_minute_volume_of_just_the_most_is_plausible() {
    // 1 kg: 10 mL each 600 ms are 1 000 mL a minute; with a step of 1/65 536 mL more a breath it is too much.
    let plausible = Plausible::default().with_weight(Mass::from_grams(1_000).unwrap());
    let told = |expired: Volume| {
        let mut state = PlausibleState::default();
        let mut breath = Breath { end: at(600), ..Breath::default() };
        (breath.inspired, breath.expired) = (Saturated::exact(expired), Saturated::exact(expired));
        (0..8).map(|_| plausible.step(&mut state, &breath)).last().flatten()
    };
    let most = Volume::from_int(10);
    assert_eq!(told(most), None);
    let more = most.saturating_add(Volume::from_bits(1)).value;
    assert_eq!(told(more), Some(Implausible::TooMuch));
}

#[test]
fn a_breath_of_just_the_largest_is_plausible() {
    let plausible = Plausible::default().with_weight(Mass::from_grams(1_000).unwrap());
    let told = |inspired: Volume, expired: Volume| {
        let mut breath = Breath { end: at(6_000), ..Breath::default() };
        (breath.inspired, breath.expired) = (Saturated::exact(inspired), Saturated::exact(expired));
        plausible.step(&mut PlausibleState::default(), &breath)
    };
    let (bit, large) = (Volume::from_bits(1), Some(Implausible::TooLarge));
    let (out, inward) = (Volume::from_int(30), Volume::from_int(90));
    assert_eq!(told(inward, out), None);
    assert_eq!(told(inward, out.saturating_add(bit).value), large);
    assert_eq!(told(inward.saturating_add(bit).value, out), large);
}

#[test]
fn each_reason_says_of_how_many_breaths_it_is_told() {
    let told = [
        Implausible::Inverted,
        Implausible::TooFast,
        Implausible::TooLarge,
        Implausible::TooMuch,
        Implausible::TooSmall,
        Implausible::NoPressure,
    ]
    .map(Implausible::breaths);
    assert_eq!(told, [20, 20, 1, 8, 20, 20]);
}

/// Whether four swings between two flows about nothing, all at one moment, are heard as two breaths once 4 s have
/// passed.
fn swings(up: Flow, down: Flow, peak: Flow) -> bool {
    let (mut unheard, phase) = (Unheard::default(), Phase::Expiration);
    let _ = unheard.step(at(0), Flow::ZERO, phase, peak);
    for flow in [up, down, up, down] {
        assert_eq!(unheard.step(at(0), flow, phase, peak), None);
    }
    unheard.step(at(4_000), Flow::ZERO, phase, peak).is_some()
}

#[test]
fn flow_that_swings_by_just_the_least_breathes_nothing() {
    let (bit, least) = (Flow::from_bits(1), Flow::from_int(4));
    let (more, none) = (least.saturating_add(bit).value, Flow::ZERO);
    let down = |flow: Flow| Flow::ZERO.saturating_sub(flow).value;
    assert!(swings(more, down(more), none));
    assert!(!swings(least, down(more), none) && !swings(more, down(least), none));
    // A quarter of the usual peak, where that is more.
    let quarter = Flow::from_int(10);
    assert!(!swings(quarter, down(quarter), Flow::from_int(40)));
    let more = quarter.saturating_add(bit).value;
    assert!(swings(more, down(more), Flow::from_int(40)));
}

/// A circuit whose pressure usually falls back to 5 cmH2O after 0.3 s.
fn circuit() -> OpenCircuit {
    let (mut circuit, mut breath) = (OpenCircuit::default(), Breath::default());
    (breath.baseline, breath.end_insp, breath.kind) = (Pressure::from_int(5), at(300), Kind::Own);
    circuit.start(at(0));
    circuit.learn(&breath);
    circuit
}

/// Whether it stands open at the end of such flows and pressures, each `apart` ms long.
fn open(apart: u64, readings: impl IntoIterator<Item = (Flow, Pressure)>) -> bool {
    let mut circuit = circuit();
    for ((flow, pressure), n) in readings.into_iter().zip(1..) {
        let to = end(flow, flow, pressure);
        let _ = circuit.step(&ten_ms(n * apart, to, to), Flow::ZERO);
    }
    circuit.is_open()
}

#[test]
fn a_pressure_that_has_come_down_to_two_above_the_baseline_is_down() {
    let bit = Pressure::from_bits(1);
    let rises = |low| {
        let up = (Flow::ZERO, Pressure::from_int(9));
        open(50, [up, (Flow::ZERO, low), up, (Flow::ZERO, low), up])
    };
    assert!(rises(Pressure::from_int(7)));
    assert!(!rises(Pressure::from_int(7).saturating_add(bit).value));
}

#[test]
fn a_circuit_stands_open_beyond_its_bounds_only() {
    let (bit, five) = (Flow::from_bits(1), Pressure::from_int(5));
    // 30 mL/s in for three seconds; a step more.
    let flows = |flow| open(50, [(flow, five); 60]);
    let most = Flow::from_int(30);
    assert!(!flows(most) && flows(most.saturating_add(bit).value));
    // 35 %, of which 22 938 of 65 536 is the nearest, of 5 cmH2O.
    let pressures = |bits| open(50, [(Flow::ZERO, Pressure::from_bits(bits)); 60]);
    assert!(!pressures(5 * 22_938) && pressures(5 * 22_938 - 1));
    // Readings 250 ms apart are seen, further ones are not.
    assert!(open(250, [(most.saturating_add(bit).value, five); 20]));
    assert!(!open(251, [(most.saturating_add(bit).value, five); 20]));
}

#[test]
fn an_open_circuit_that_gives_back_more_than_half_is_closed() {
    let learned = |out: Volume| {
        let (mut circuit, mut breath) = (circuit(), Breath::default());
        breath.flags = Flags::OPEN;
        breath.baseline = Pressure::from_int(1);
        breath.inspired = Saturated::exact(Volume::from_int(10));
        breath.most_out = Saturated::exact(out);
        let before = circuit;
        circuit.learn(&breath);
        circuit != before
    };
    let half = Volume::from_int(5);
    assert!(!learned(half) && learned(half.saturating_add(Volume::from_bits(1)).value));
}

#[test]
fn a_circuit_waits_for_two_inspirations_and_learns_from_none_that_took_nothing_in() {
    // An inspiration of 1.5 s: the pressure must be low for 3 s, 60 readings of 50 ms, behind the first.
    let (mut slow, mut breath) = (OpenCircuit::default(), Breath::default());
    (breath.baseline, breath.end_insp) = (Pressure::from_int(5), at(1_500));
    slow.start(at(0));
    slow.learn(&breath);
    let low = end(Flow::ZERO, Flow::ZERO, Pressure::ZERO);
    let opened = (1..=80).find(|n| slow.step(&ten_ms(n * 50, low, low), Flow::ZERO));
    assert_eq!(opened, Some(60));
    // Nothing went in, and something came out.
    let (mut circuit, before) = (circuit(), circuit());
    (breath.flags, breath.baseline) = (Flags::OPEN, Pressure::from_int(1));
    breath.most_out = Saturated::exact(Volume::from_int(5));
    circuit.learn(&breath);
    assert_eq!(circuit, before);
}

#[test]
fn without_a_weight_ten_times_the_usual_is_too_large() {
    // Eight breaths of 10 mL in and 5 out, each a second: the larger is usual; one doubles it at most.
    let (plausible, mut state) = (Plausible::default(), PlausibleState::default());
    let mut step = |inspired: Volume, keep: bool| {
        let mut breath = Breath { end: at(1_000), ..Breath::default() };
        breath.inspired = Saturated::exact(inspired);
        breath.expired = Saturated::exact(Volume::from_int(5));
        let was = state;
        let told = plausible.step(&mut state, &breath);
        state = if keep { state } else { was };
        told
    };
    for n in 1..=8 {
        assert_eq!(step(Volume::from_int(10), true), None, "breath {n}");
    }
    let over = |ml| Volume::from_int(ml).saturating_add(Volume::from_bits(1)).value;
    let large = Some(Implausible::TooLarge);
    assert_eq!((step(over(100), false), step(Volume::from_int(100), true)), (large, None));
    assert_eq!((step(over(200), false), step(Volume::from_int(200), false)), (large, None));
    // Just twice as much is not doubled, but taken an eighth of the way: 20 and 20 / 8 make 22.5.
    assert_eq!(step(Volume::from_int(40), true), None);
    assert_eq!((step(over(225), false), step(Volume::from_int(225), false)), (large, None));
}

#[test]
fn time_without_readings_counts_as_span_alone() {
    let mut totals = Totals::default();
    let ten = ten_ms(10, End::default(), End::default());
    totals.add(&ten);
    let begun = totals;
    totals.add(&ten);
    totals.wait(Duration::from_millis(500));
    let told = totals.since(&begun);
    let ms = Duration::from_millis;
    assert_eq!((told.span(), told.known()), (ms(510), ms(10)));
}
