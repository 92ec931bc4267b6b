use super::*;

fn reading(flow: i16, pressure: i16) -> Reading {
    Reading { flow: Flow::from_int(flow), pressure: Pressure::from_int(pressure) }
}

/// Feeds `flows` at 100 Hz under a pressure that changes every sample; the flags of each.
fn run(flows: impl Iterator<Item = i16>) -> std::vec::Vec<Flags> {
    let (gate, mut state) = (Gate::default(), GateState::default());
    let mut out = std::vec::Vec::new();
    for (i, flow) in flows.enumerate() {
        let i = u64::try_from(i).unwrap();
        let wiggle = i16::try_from(i % 2).unwrap();
        if let GateOutcome::Step(step) =
            gate.step(&mut state, Instant::from_us(i * 10_000), reading(flow, 5 + wiggle))
        {
            out.push(step.flags);
        }
    }
    out
}

#[test]
fn a_gap_is_flagged_just_beyond_the_limit() {
    let (gate, mut state) = (Gate::default(), GateState::default());
    assert_eq!(gate.step(&mut state, Instant::from_us(0), reading(1, 5)), GateOutcome::Start);
    // Just the cut limit of a second is still a gap.
    let (none, gap) = (Flags::NONE, Flags::GAP);
    let times = [(100_000, none), (200_001, gap), (210_000, none), (1_210_000, gap)];
    for (flow, (at, flags)) in (2..).zip(times) {
        match gate.step(&mut state, Instant::from_us(at), reading(flow, 5)) {
            GateOutcome::Step(step) => assert_eq!(step.flags, flags, "at {at}"),
            other => panic!("{other:?}"),
        }
    }
    let cut = gate.step(&mut state, Instant::from_us(2_210_001), reading(2, 5));
    assert_eq!(cut, GateOutcome::Cut { since: Instant::from_us(1_210_000), flags: gap });
}

#[test]
fn two_hours_of_silence_cut() {
    let (gate, mut state) = (Gate::default(), GateState::default());
    let _ = gate.step(&mut state, Instant::from_us(7), reading(1, 5));
    let mut after = (0..9).map(|i| Instant::from_us(7_200_000_000 + i * 10_000));
    let mut next = || gate.step(&mut state, after.next().unwrap(), reading(1, 5));
    for _ in 0..7 {
        assert_eq!(next(), GateOutcome::Refused(Refusal::FarAhead));
    }
    let flags = Flags::GAP.with(Flags::DISORDER);
    assert_eq!(next(), GateOutcome::Cut { since: Instant::from_us(7), flags });
    assert!(matches!(next(), GateOutcome::Step(step) if step.flags.is_empty()));
}

#[test]
fn a_reading_out_of_range_is_refused_and_marks_the_next_interval() {
    let (gate, mut state) = (Gate::default(), GateState::default());
    let _ = gate.step(&mut state, Instant::from_us(0), reading(1, 5));
    let wild = gate.step(&mut state, Instant::from_us(10_000), reading(6_000, 5));
    assert_eq!(wild, GateOutcome::Refused(Refusal::FlowOutOfRange));
    let wild = gate.step(&mut state, Instant::from_us(20_000), reading(0, 250));
    assert_eq!(wild, GateOutcome::Refused(Refusal::PressureOutOfRange));
    let next = gate.step(&mut state, Instant::from_us(30_000), reading(3, 5));
    assert!(matches!(next, GateOutcome::Step(s) if s.flags == Flags::OUT_OF_RANGE
        && s.span == Duration::from_millis(30)));
}

#[test]
fn one_stray_time_is_refused_and_a_clock_set_back_is_followed() {
    let (gate, mut state) = (Gate::default(), GateState::default());
    let _ = gate.step(&mut state, Instant::from_us(1_000_000), reading(1, 5));
    let stray = gate.step(&mut state, Instant::from_us(990_000), reading(1, 5));
    assert_eq!(stray, GateOutcome::Refused(Refusal::NotLater));
    let next = gate.step(&mut state, Instant::from_us(1_010_000), reading(1, 5));
    assert!(matches!(next, GateOutcome::Step(s) if s.flags == Flags::DISORDER));
    // The clock is set back to zero: seven are refused, the eighth starts afresh.
    let outcomes: std::vec::Vec<_> = (0..9)
        .map(|i| gate.step(&mut state, Instant::from_us(i * 10_000), reading(1, 5)))
        .collect();
    assert!(outcomes[..7].iter().all(|o| *o == GateOutcome::Refused(Refusal::NotLater)));
    assert!(matches!(outcomes[7], GateOutcome::Cut { .. }));
    assert!(matches!(outcomes[8], GateOutcome::Step(_)));
}

/// What comes of readings at times in ms.
fn passed(times: &[u64]) -> std::vec::Vec<GateOutcome> {
    let (gate, mut state) = (Gate::default(), GateState::default());
    let each = times.iter().map(|ms| Instant::from_us(ms * 1_000));
    each.map(|at| gate.step(&mut state, at, reading(1, 5))).collect()
}

#[test]
fn a_jump_far_ahead_is_believed_from_the_eighth_reading_on() {
    // Two stray times of 30 minutes are refused and what follows goes on.
    let strays = passed(&[1_000, 1_010, 1_801_000, 1_801_010, 1_020]);
    assert_eq!(strays[2..4], [GateOutcome::Refused(Refusal::FarAhead); 2]);
    assert!(matches!(strays[4], GateOutcome::Step(_)));
    let mut times = std::vec![1_000];
    times.extend((0..9).map(|i| 1_801_000 + 10 * i));
    let jump = passed(&times);
    assert_eq!(jump[1..8], [GateOutcome::Refused(Refusal::FarAhead); 7]);
    assert!(
        matches!(jump[8], GateOutcome::Cut { since, .. } if since == Instant::from_us(1_000_000))
    );
    assert!(matches!(jump[9], GateOutcome::Step(_)));
    // Two seconds are believed at once.
    assert!(matches!(passed(&[1_000, 3_000])[1], GateOutcome::Cut { .. }));
    assert_eq!(passed(&[1_000, 3_001])[1], GateOutcome::Refused(Refusal::FarAhead));
}

#[test]
fn a_reading_is_not_far_ahead_of_what_a_timer_told() {
    let (gate, mut state) = (Gate::default(), GateState::default());
    let _ = gate.step(&mut state, Instant::from_us(0), reading(1, 5));
    gate.tell(&mut state, Instant::from_us(59_000_000));
    let at = Instant::from_us(60_000_000);
    let passed = gate.step(&mut state, at, reading(1, 5));
    assert!(matches!(passed, GateOutcome::Cut { since, .. } if since == Instant::from_us(0)));
}

#[test]
fn a_block_that_is_sent_again_is_refused() {
    // From 0.5 to 41 s; then 20 readings from 10 s before: sent again; from 40 s before: a clock
    // that was set back.
    let block = |from: u64| {
        let mut times: std::vec::Vec<u64> = (50..4_100).map(|i| i * 10).collect();
        times.extend((0..20).map(|i| from + 10 * i));
        passed(&times)[4_050..].to_vec()
    };
    assert_eq!(block(31_000), [GateOutcome::Refused(Refusal::NotLater); 20]);
    assert!(matches!(block(900)[7], GateOutcome::Cut { .. }));
    // Nothing lies before the first reading: the clock began anew.
    let begun_anew: std::vec::Vec<_> = passed(&[500, 510, 10, 20, 30, 40, 50, 60, 70, 80]);
    assert!(matches!(begun_anew[9], GateOutcome::Cut { .. }));
}

/// The first of readings every 10 ms that is flagged as stuck.
fn first_stuck(readings: impl Iterator<Item = Reading>) -> Option<u64> {
    let (gate, mut state) = (Gate::default(), GateState::default());
    (0..).zip(readings).find_map(|(i, reading)| {
        let passed = gate.step(&mut state, Instant::from_us(i * 10_000), reading);
        matches!(passed, GateOutcome::Step(step) if step.flags.has(Flags::STUCK)).then_some(i)
    })
}

#[test]
fn a_frozen_flow_under_moving_pressure_is_stuck_after_a_second() {
    let flags = run(core::iter::repeat_n(3, 150));
    // Pressure moves by 1 cmH2O only: not more than the limit, so never stuck.
    assert_eq!(flags.iter().position(|f| f.has(Flags::STUCK)), None);
    // 100 × 10 ms = 1 s
    assert_eq!(first_stuck((0..150).map(|i| reading(3, 5 + i % 12))), Some(100));
}

#[test]
fn all_zeros_are_stuck_after_half_a_second() {
    // 50 × 10 ms = 500 ms
    assert_eq!(first_stuck((0..300).map(|_| reading(0, 0))), Some(50));
}

#[test]
fn when_a_recording_begins_says_nothing_of_its_sensor() {
    // All zeros from 1.4 s on are stuck after 500 ms, as those from 0 s on: at 1.9 s.
    let (gate, mut state) = (Gate::default(), GateState::default());
    let stuck = (140..400_u64).find(|i| {
        let passed = gate.step(&mut state, Instant::from_us(i * 10_000), reading(0, 0));
        matches!(passed, GateOutcome::Step(step) if step.flags.has(Flags::STUCK))
    });
    assert_eq!(stuck, Some(190));
}

#[test]
fn a_coarse_sensor_is_not_stuck_in_every_expiration() {
    // 0.4 s of breathing, 0.7 s of quiet without a single change: at first that looks stuck,
    // then it is the way of this sensor; a freeze of three seconds still shows.
    let (gate, mut state) = (Gate::default(), GateState::default());
    let mut stuck = std::vec::Vec::new();
    for i in 0..1_600_u64 {
        let (cycle, phase) = (i / 110, i % 110);
        let frozen = phase >= 40 || i >= 1_200;
        let flow = if frozen { 2 } else { i16::try_from(10 + phase % 7).unwrap() };
        let passed = gate.step(&mut state, Instant::from_us(i * 10_000), reading(flow, 5));
        if matches!(passed, GateOutcome::Step(step) if step.flags.has(Flags::STUCK)) {
            stuck.push(if i < 1_200 { cycle } else { 99 });
        }
    }
    stuck.dedup();
    assert_eq!(stuck, [0, 99]);
}

#[test]
fn a_coarse_sensor_too_is_stuck_after_ten_times_the_limit() {
    // A second of breathing and 0.9 s without a change, ten times: the way of this sensor, and three times that are
    // 2.7 s. It freezes at reading 1,900 and is told after ten times 0.2 s, at reading 2,100.
    let gate = Gate { frozen: Duration::from_millis(200), ..Gate::default() };
    let mut state = GateState::default();
    let mut stuck = std::vec::Vec::new();
    for i in 0..2_300_u64 {
        let flow = match i {
            1_900.. => 3,
            _ if i % 190 >= 100 => 2,
            _ => i16::try_from(10 + i % 7).unwrap(),
        };
        let passed = gate.step(&mut state, Instant::from_us(i * 10_000), reading(flow, 5));
        if matches!(passed, GateOutcome::Step(step) if step.flags.has(Flags::STUCK)) && i >= 380 {
            stuck.push(i);
        }
    }
    assert_eq!(stuck.first(), Some(&2_100));
}

/// Half a second in and half a second out at this flow, over again.
fn to_and_fro(flow: i16) -> impl Fn(u64) -> i16 {
    move |i| {
        let size = flow + i16::try_from(i % 3).unwrap() - 1;
        if i / 50 % 2 == 0 { size } else { -size }
    }
}

#[test]
fn a_pressure_that_stands_still_while_the_infant_breathes_is_stuck_after_ten_breaths() {
    // The twentieth half breath has ended with reading 1,000, at 10 s, and the reading after it is flagged; twice as
    // fast it has with reading 500, at 5 s. Four times as fast at 2.5 s: ten times the limit of 0.5 s count.
    let breathe = to_and_fro(20);
    assert_eq!(first_stuck((0..1_500).map(|i| reading(breathe(i), 6))), Some(1_001));
    assert_eq!(first_stuck((0..1_500).map(|i| reading(breathe(2 * i), 6))), Some(501));
    assert_eq!(first_stuck((0..1_500).map(|i| reading(breathe(4 * i), 6))), Some(500));
}

#[test]
fn a_pressure_that_moves_once_in_ten_breaths_is_not_stuck() {
    // One step of the sensor every 9.4 s, of 18 or 19 half breaths; and ripple of 3 to 5 mL/s at one pressure is nobody's
    // breath.
    let (breathe, ripple) = (to_and_fro(20), to_and_fro(4));
    let steps = |i: u64| 6 + i16::try_from(i / 940 % 2).unwrap();
    assert_eq!(first_stuck((0..6_000).map(|i| reading(breathe(i), steps(i)))), None);
    assert_eq!(first_stuck((0..6_000).map(|i| reading(ripple(i), 6))), None);
}

#[test]
fn a_flow_that_ends_at_one_value_both_ways_is_clipped() {
    let clipped = [0, 20, 30, 30, 30, 30, 30, 30, 10, -10, -30, -30, -30, -30, -30, -30, -5];
    let flags = run(clipped.into_iter().chain(clipped));
    // Outward the same 30 comes again, and its fifth sample is 40 ms after the first.
    let first = flags.iter().position(|f| f.has(Flags::CLIPPED));
    assert_eq!(first, Some(13));
    let round = [0, 10, 20, 28, 30, 30, 29, 20, 10, -5, -20, -29, -20, -8];
    assert!(run(round.into_iter().chain(round)).iter().all(|f| f.is_empty()));
}

#[test]
fn a_range_that_was_made_smaller_clips_at_less_than_half() {
    // Peaks of 50, then nothing above 20.
    let round = [0, 20, 40, 50, 40, 20, 0, -20, -40, -50, -40, -20];
    let clipped = [0, 20, 20, 20, 20, 20, 0, -20, -20, -20, -20, -20];
    let flags = run(round.into_iter().chain(clipped).chain(clipped));
    // The fifth outward is the twelfth of the second row, and a flag belongs to the interval before it.
    assert_eq!(flags.iter().position(|f| f.has(Flags::CLIPPED)), Some(22));
    // Small and round it is not remembered: the first that sits there is none yet.
    let small = [0, 10, 20, 10, 0, -10, -20, -10];
    let flags = run(round.into_iter().chain(small).chain(clipped[..6].iter().copied()));
    assert!(flags.iter().all(|f| f.is_empty()), "{flags:?}");
}

#[test]
fn ripple_in_coarse_steps_sits_and_hides_no_clip_nor_is_one() {
    let clipped = [0, 20, 30, 30, 30, 30, 30, 0, -20, -30, -30, -30, -30, -30];
    // 7 mL/s, less than a quarter of 30, for five readings either way, three times.
    let ripple = [0, 7, 7, 7, 7, 7, 0, -7, -7, -7, -7, -7].repeat(3);
    let flags = run(clipped.into_iter().chain(ripple.iter().copied()).chain(clipped));
    let at: std::vec::Vec<usize> =
        (0..flags.len()).filter(|i| flags[*i].has(Flags::CLIPPED)).collect();
    // The fifth outward of the first breath, and the fifth of either way in the second.
    assert_eq!(at, [12, 55, 62]);
}

#[test]
fn noise_about_zero_between_excursions_hides_no_clip() {
    // As above, with noise crossing zero for 60 ms before the second excursion either way.
    let noise = [1, -1, 1, -1, 1, -1];
    let inward = [10, 20, 30, 30, 30, 30, 30, 30, 10];
    let outward = inward.map(|flow: i16| -flow);
    let breath = || inward.into_iter().chain(noise).chain(outward).chain(noise);
    let flags = run([0].into_iter().chain(breath()).chain(breath()));
    // The first sample makes no interval; the outward excursion begins after 9 + 6 more, and its fifth
    // 30 is the seventh of it.
    assert_eq!(flags.iter().position(|f| f.has(Flags::CLIPPED)), Some(9 + 6 + 6));
}

#[test]
fn ripple_between_excursions_hides_no_clip() {
    // As above, with ripple of 8 mL/s that crosses zero six times before the second excursion either way.
    let ripple = [8, -8, 7, -8, 8, -7];
    let inward = [10, 20, 30, 30, 30, 30, 30, 30, 10];
    let outward = inward.map(|flow: i16| -flow);
    let breath = || inward.into_iter().chain(ripple).chain(outward).chain(ripple);
    let flags = run([0].into_iter().chain(breath()).chain(breath()));
    // As above: after 9 + 6 more the outward excursion begins, and its fifth 30 is the seventh of it.
    assert_eq!(flags.iter().position(|f| f.has(Flags::CLIPPED)), Some(9 + 6 + 6));
    // Where breaths become small for good, the large ones are forgotten: twenty swings of 12 mL/s, then one
    // that sits at 12.
    let swings = (0..20).map(|i| if i % 2 == 0 { 12 } else { -12 });
    let sits = [12, 12, 12, 12, 12, 12, -1];
    let flags = run([0].into_iter().chain(breath()).chain(swings).chain(sits));
    assert!(
        flags.last().is_some_and(|_| flags.iter().rev().take(3).any(|f| f.has(Flags::CLIPPED)))
    );
}

#[test]
fn a_flow_near_the_sensors_end_is_clipped_at_once() {
    let flags = run([0, 2_500, 4_000, 4_000, 4_000, 4_000, 4_000, 0].into_iter());
    assert_eq!(flags.iter().position(|f| f.has(Flags::CLIPPED)), Some(5));
}

#[test]
fn a_wild_reading_does_not_slip_in_with_a_clock_reset() {
    let (gate, mut state) = (Gate::default(), GateState::default());
    let _ = gate.step(&mut state, Instant::from_us(1_000_000), reading(1, 5));
    for i in 0..7 {
        let _ = gate.step(&mut state, Instant::from_us(i * 10_000), reading(1, 5));
    }
    let wild = gate.step(&mut state, Instant::from_us(70_000), reading(30_000, 5));
    assert_eq!(wild, GateOutcome::Refused(Refusal::FlowOutOfRange));
    let tame = gate.step(&mut state, Instant::from_us(80_000), reading(1, 5));
    assert!(matches!(tame, GateOutcome::Cut { .. }));
}

#[test]
fn settings_are_checked() {
    let (f, p) = (Flow::from_int(100), Pressure::from_int(100));
    let ms = Duration::from_millis;
    let bad = |r: Result<Gate, SettingError>| r.unwrap_err();
    assert_eq!(bad(Gate::new(Flow::ZERO, p, ms(100), ms(100), ms(500))).parameter, "flow_limit");
    assert_eq!(
        bad(Gate::new(f, Pressure::ZERO, ms(100), ms(100), ms(500))).parameter,
        "pressure_limit"
    );
    assert_eq!(bad(Gate::new(f, p, ms(4), ms(100), ms(500))).problem, Problem::TooSmall);
    assert_eq!(bad(Gate::new(f, p, ms(100), ms(99), ms(500))).problem, Problem::Contradiction);
    assert_eq!(bad(Gate::new(f, p, ms(100), ms(31_000), ms(500))).problem, Problem::TooLarge);
    assert_eq!(bad(Gate::new(f, p, ms(100), ms(100), ms(49))).parameter, "frozen");
    assert!(Gate::new(f, p, ms(5), ms(5), ms(50)).is_ok());
}
