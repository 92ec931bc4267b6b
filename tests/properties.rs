//! What must hold whatever comes in.

use proptest::prelude::*;
use tidevane::breath::Breath;
use tidevane::monitor::{Monitor, Settings};
use tidevane::quantity::{Duration, Flow, Instant, Pressure, Share, Tick, Volume};
use tidevane::signal::{Flags, Reading, Sample};
use tidevane::trigger::{Noise, NoiseFloor, Threshold, ThresholdVerdict};
use tidevane::volume::{
    Bound, Limiter, LimiterOutcome, LimiterState, Proposal, ProposalState, Proposed,
};
use tidevane_sim::{LeakSettings, Scenario, Schedule, Simulator};
use tidevane_support::simulated;
use tidevane_support::units::{float, inspired};

/// A breathing pattern as flow and pressure over time; `t` in seconds.
fn breathing(t: f64, period: f64, tidal: f64, leak: f64) -> (f64, f64) {
    let phase = t.rem_euclid(period) / period;
    let (lung, pressure) = if phase < 0.35 {
        let x = phase / 0.35;
        let mean = tidal / (0.35 * period);
        (
            mean * std::f64::consts::FRAC_PI_2 * (std::f64::consts::PI * x).sin(),
            5.0 + 10.0 * x.min(0.2) * 5.0,
        )
    } else if phase < 0.8 {
        let x = (phase - 0.35) / 0.45;
        let mean = tidal / (0.45 * period);
        (-mean * std::f64::consts::FRAC_PI_2 * (std::f64::consts::PI * x).sin(), 5.0)
    } else {
        (0.0, 5.0)
    };
    (lung + leak * pressure.sqrt(), pressure)
}

fn reading(flow: f64, pressure: f64) -> Reading {
    Reading {
        flow: Flow::from_bits((flow * 65_536.0).round() as i32),
        pressure: Pressure::from_bits((pressure * 65_536.0).round() as i32),
    }
}

/// Breaths of a pattern sampled every `step_us` for `seconds`.
fn breaths(step_us: u64, seconds: u64, pattern: impl Fn(f64) -> (f64, f64)) -> Vec<Breath> {
    let mut monitor = Monitor::new(Settings::default());
    let mut out = Vec::new();
    for t in (0..seconds * 1_000_000).step_by(step_us as usize) {
        let (flow, pressure) = pattern(t as f64 / 1e6);
        out.extend(monitor.push_at(Instant::from_us(t), reading(flow, pressure)).breath);
    }
    out.into_iter().map(|b| b.breath).collect()
}

/// What such a pattern lets in through the sensor from `onset` until flow first goes out, mL: the leak counts, also when
/// the lung has turned.
fn let_in(onset: f64, period: f64, tidal: f64, leak: f64) -> f64 {
    let step = period / 4_000.0;
    let turn = (onset / period).round() * period + 0.35 * period;
    (0..4_000)
        .map(|i| onset + (f64::from(i) + 0.5) * step)
        .map(|t| (t, breathing(t, period, tidal, leak).0))
        .take_while(|&(t, flow)| t < turn || flow >= 0.0)
        .map(|(_, flow)| flow * step)
        .sum()
}

fn sample() -> impl Strategy<Value = (u32, i32, i32)> {
    prop_oneof![
        8 => (1_000_u32..20_000, -4_000_000..4_000_000_i32, 0..1_300_000_i32),
        1 => (any::<u32>(), any::<i32>(), any::<i32>()),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// No panic, times in order, and a clone goes on as the original does.
    #[test]
    fn any_stream_is_survived(stream in prop::collection::vec(sample(), 1..800), split in 0_usize..800) {
        let largest = stream.iter().map(|s| float(s.1).abs()).fold(0.0, f64::max);
        let mut monitor = Monitor::new(Settings::default());
        let mut twin = None;
        let (mut tick, mut last_end) = (0_u32, None::<Instant>);
        for (i, (dt, flow, pressure)) in stream.into_iter().enumerate() {
            if i == split {
                twin = Some(monitor.clone());
            }
            tick = tick.wrapping_add(dt);
            let sample = Sample {
                tick: Tick::from_us(tick),
                flow: Flow::from_bits(flow),
                pressure: Pressure::from_bits(pressure),
            };
            let report = monitor.push(sample);
            if let Some(twin) = &mut twin {
                prop_assert_eq!(&twin.push(sample), &report);
            }
            let told = report.events.len();
            let room = report.events.capacity();
            prop_assert!(told < room, "{told} events of a sample, room for {room}");
            if let Some(closed) = report.breath {
                let b = closed.breath;
                prop_assert!(b.onset <= b.end_insp && b.end_insp <= b.end, "{b:?}");
                if b.is_trusted() && let Some(last) = last_end {
                    let (onset, last) = (b.onset.to_us(), last.to_us());
                    prop_assert!(onset >= last, "begins at {onset} us, the one before ended at {last} us");
                }
                // Behind a cut the recording's clock may be another.
                last_end = (!b.flags.has(Flags::CUT)).then_some(b.end);
                if b.is_trusted() {
                    // A volume cannot exceed the largest flow of all for the whole phase.
                    let seconds = b.insp_time().to_us() as f64 / 1e6;
                    let (moved, most) = (inspired(&b), largest * seconds);
                    prop_assert!(
                        moved <= most + 0.01,
                        "{moved} mL inspired, at most {most} mL: {largest} mL/s for {seconds} s; {b:?}"
                    );
                }
            }
        }
    }

    /// Where the counter stands at the start, and where it wraps, changes nothing.
    #[test]
    fn relabelled_time_gives_the_same_breaths(origin in any::<u32>()) {
        let run = |origin: u32| {
            let mut monitor = Monitor::new(Settings::default());
            let mut out = Vec::new();
            for i in 0..1_500_u32 {
                let (flow, pressure) = breathing(f64::from(i) / 100.0, 1.2, 6.0, 0.5);
                let r = reading(flow, pressure);
                let tick = Tick::from_us(origin.wrapping_add(i * 10_000));
                let report = monitor.push(Sample { tick, flow: r.flow, pressure: r.pressure });
                out.extend(report.breath.map(|b| {
                    let since = |m: Instant| m.to_us() - u64::from(origin);
                    (since(b.breath.onset), since(b.breath.end), b.breath.inspired, b.breath.expired, b.leak)
                }));
            }
            out
        };
        prop_assert_eq!(run(origin), run(0), "onset and end in us, volumes and leak: from tick {} and from 0", origin);
    }

    /// Patterns of every size and rate are found, breath for breath, with their volume.
    #[test]
    fn every_rate_size_and_leak_is_followed(
        rate in 5_u32..150, tidal in 2.0..900.0_f64, leak_share in 0.0..0.6_f64, hertz in prop::sample::select(vec![50_u64, 100, 200, 500, 1_000]),
    ) {
        let period = 60.0 / f64::from(rate);
        // At least eight samples in the inspiration; else the rate asks too much of the sampling.
        prop_assume!(0.35 * period * hertz as f64 >= 8.0);
        // Half a sine peaks at π/2 times its mean; beyond 5 000 mL/s the gate refuses.
        prop_assume!(tidal / (0.35 * period) * 1.6 / (1.0 - leak_share) < 4_000.0);
        // A breath that hardly reaches the least flow, 1 mL/s, is none.
        prop_assume!(tidal / (0.35 * period) * 1.6 > 2.0);
        // Leak through √P: the mean of √P over the pattern is about 2.7.
        let leak = leak_share / (1.0 - leak_share) * tidal / period / 2.7;
        let seconds = (period * 14.0).ceil() as u64 + 12;
        let found = breaths(1_000_000 / hertz, seconds, |t| breathing(t, period, tidal, leak));
        // From 10 s on every breath must be met.
        let settled: Vec<_> = found.iter().filter(|b| b.onset >= Instant::from_us(10_000_000)).collect();
        // The first begins up to a period later, the last is not over, and one is told eight samples after its end: of 0.4 s at
        // 150 a minute 0.16 at 50 a second, 1 + 1 + 0.4 periods in all.
        let begun = (seconds as f64 - 10.0) / period;
        let more = settled.len() as f64 - begun;
        prop_assert!((-2.5..0.5).contains(&more), "{} breaths behind 10 s, {begun} periods; {} in all", settled.len(), found.len());
        for b in &settled {
            let onset = b.onset.to_us() as f64 / 1e6;
            let off = (onset / period).round() * period - onset;
            // A rest shorter than 0.25 s may teach no leak: where that is large, gas that leaks in then may
            // be taken for the beginning of the breath; where it is above half, also in a longer one.
            let rest = 0.2 * period;
            let is_unsure = leak_share > 0.5 && rest < 0.4 || leak_share > 0.1 && rest < 0.25;
            let early = if is_unsure { rest + 0.01 } else { 0.0 };
            let allowed = (0.1 * period.max(0.5)).max(early);
            prop_assert!(off.abs() < allowed, "onset off by {off} s, {allowed} s allowed, at {rate}/min");
            let length = b.end.since(b.onset).to_us() as f64 / 1e6;
            let allowed = (0.12 * period).max(early);
            prop_assert!((length - period).abs() < allowed, "{length} s long, not {period} +- {allowed} s");
            let (volume, want) = (inspired(b), let_in(onset, period, tidal, leak));
            // Trapezoids below half a sine of n steps miss (π ÷ 2n)² ÷ 3 of it, 1.3 % at 8; the jump of the leak, as the
            // pressure falls, falls between two samples.
            prop_assert!((volume - want).abs() <= 0.025 * want, "{volume} mL, not {want} mL, at {rate}/min");
        }
    }

    /// Scaling flow scales volumes; a breath of an adult is a breath of an infant, larger.
    #[test]
    fn volumes_scale_with_flow(scale in 1_u32..60) {
        let base = breaths(5_000, 15, |t| breathing(t, 1.5, 10.0, 0.0));
        let scaled = breaths(5_000, 15, |t| {
            let (flow, pressure) = breathing(t, 1.5, 10.0, 0.0);
            (flow * f64::from(scale), pressure)
        });
        prop_assert_eq!(base.len(), scaled.len(), "breaths of the flow and of {} times as much", scale);
        for (a, b) in base.iter().zip(&scaled).skip(1) {
            let (a, b) = (inspired(a) * f64::from(scale), inspired(b));
            prop_assert!((a - b).abs() <= 0.005 * a + 0.05, "{scale} times the volume is {a} mL, of {scale} times the flow {b} mL");
        }
    }

    /// A higher limit never stops earlier, and a stop comes once.
    #[test]
    fn limiter_is_monotone(
        flows in prop::collection::vec(-200_000..6_000_000_i32, 2..200),
        low in 1_i32..2_000_000, more in 0_i32..2_000_000, delay_ms in 0_u32..100,
    ) {
        let stop = |limit: i32| {
            let limiter = Limiter::new(Volume::from_bits(limit), Duration::from_millis(delay_ms)).unwrap();
            let mut state = LimiterState::default();
            limiter.begin(&mut state, Volume::ZERO);
            let stops: Vec<_> = flows
                .windows(2)
                .enumerate()
                .filter(|(_, pair)| {
                    let (from, to) = (Flow::from_bits(pair[0]), Flow::from_bits(pair[1]));
                    matches!(limiter.step(&mut state, Duration::from_millis(5), from, to), LimiterOutcome::Stop { .. })
                })
                .map(|(i, _)| i)
                .collect();
            assert!(stops.len() <= 1, "stopped at intervals {stops:?} of 5 ms, once at most");
            stops.first().copied().unwrap_or(usize::MAX)
        };
        let (first, later) = (stop(low), stop(low + more));
        prop_assert!(
            first <= later,
            "at {} mL stopped in interval {first} of 5 ms, at {} mL in {later}", float(low), float(low + more)
        );
    }

    /// A proposal keeps its ceiling and its step, whatever the breath.
    #[test]
    fn proposals_keep_their_bounds(
        volume in any::<i32>(), peak in -1_000_000..6_000_000_i32, baseline in -1_000_000..2_000_000_i32,
        leak in 0_i32..65_536, ceiling in 10_i16..80,
    ) {
        let step = Pressure::from_int(3);
        let ceiling = Pressure::from_int(ceiling);
        let rise = Pressure::from_int(2);
        let proposal =
            Proposal::new(Volume::from_int(5), step, ceiling, rise, Share::from_percent(50)).unwrap();
        let last = Breath {
            peak: Pressure::from_bits(peak),
            baseline: Pressure::from_bits(baseline),
            ..Breath::default()
        };
        let (volume, leak) = (Volume::from_bits(volume), Some(Share::from_bits(leak)));
        if let Proposed::Peak { peak: next, bound, .. } =
            proposal.step(&mut ProposalState::default(), &last, volume, leak)
        {
            prop_assert!(next <= ceiling, "{next} proposed, the ceiling is {ceiling}");
            let change = next.saturating_sub(last.peak).value;
            let held =
                matches!(bound, Bound::Ceiling | Bound::LeastRise | Bound::CeilingLowered);
            prop_assert!(
                held || change.to_bits().abs() <= step.to_bits(),
                "from {} to {next}, {bound:?}: a step of {step} at most", last.peak
            );
        }
    }

    /// More leak never raises the margin; a higher threshold never makes it worse.
    #[test]
    fn margins_are_monotone(leak in 0_i32..3_000_000, more in 0_i32..3_000_000, reach in 0_i32..500_000, set in 1_i32..6_000_000, higher in 0_i32..6_000_000) {
        let check = |set: i32, leak: i32| {
            let floor = NoiseFloor {
                leak: Flow::from_bits(leak),
                noise: Some(Noise { reach: Flow::from_bits(reach), spread: Flow::ZERO }),
                ..NoiseFloor::default()
            };
            Threshold::new(Flow::from_bits(set)).unwrap().check(Some(floor))
        };
        let rank = |v: ThresholdVerdict| match v {
            ThresholdVerdict::BelowLeak => 0,
            ThresholdVerdict::InNoise | ThresholdVerdict::AboveLeak => 1,
            ThresholdVerdict::Clear => 2,
            ThresholdVerdict::Unknown => -1,
        };
        let (plain, leakier, higher) = (check(set, leak), check(set, leak + more), check(set + higher, leak));
        // Each tells threshold, leak, noise and margin with their units.
        let said = format!("{plain:?}\nwith more leak {leakier:?}\nwith a higher threshold {higher:?}");
        prop_assert!(leakier.margin <= plain.margin, "{said}");
        prop_assert!(rank(leakier.verdict) <= rank(plain.verdict), "{said}");
        prop_assert!(rank(higher.verdict) >= rank(plain.verdict), "{said}");
    }
}

#[test]
fn the_first_baseline_is_one_that_was_measured() {
    // 5 cmH2O from the first reading on, and an inspiration at once: no quiet end comes before it.
    let found = breaths(10_000, 10, |t| breathing(t + 1.18, 1.2, 6.0, 0.0));
    let baseline = float(found[0].baseline.to_bits());
    assert!((baseline - 5.0).abs() < 1e-3, "{baseline} cmH2O, not 5");
}

#[test]
fn a_lead_never_ends_before_its_breath_begins() {
    // The pressure is up with the first reading of the inspiration: nothing came before the rise.
    let found = breaths(10_000, 10, |t| {
        let (flow, pressure) = breathing(t, 1.0, 6.0, 0.0);
        (flow, if pressure > 5.0 { 15.0 } else { pressure })
    });
    assert!(found.len() >= 8, "{} breaths found of 10 s, 8 at least", found.len());
    for b in found {
        let (onset, until) = (b.onset.to_us(), b.lead.until.to_us());
        assert!(
            (onset..=onset + 10_000).contains(&until),
            "onset at {onset} us, its lead ends at {until} us"
        );
    }
}

#[test]
fn a_pause_of_thirty_seconds_is_one_long_expiration() {
    let found = breaths(10_000, 60, |t| {
        // Breathing for 12 s, a pause of 30 s, breathing again; a leak all the time.
        let moving = !(12.0..42.0).contains(&t);
        if moving { breathing(t, 1.2, 6.0, 1.0) } else { (5.0_f64.sqrt(), 5.0) }
    });
    let longest = found.iter().max_by_key(|b| b.exp_time()).unwrap();
    let seconds = longest.exp_time().to_us() as f64 / 1e6;
    assert!(
        (30.0..32.0).contains(&seconds),
        "the longest expiration lasts {seconds} s, not 30 to 32"
    );
    // 10 breaths before the pause, 15 after: all but the last, which is still open.
    assert_eq!(found.len(), 24, "breaths");
}

#[test]
fn a_constant_on_the_pressure_changes_nothing_where_nothing_leaks() {
    let plain = breaths(10_000, 30, |t| breathing(t, 1.1, 5.0, 0.0));
    let raised = breaths(10_000, 30, |t| {
        let (flow, pressure) = breathing(t, 1.1, 5.0, 0.0);
        (flow, pressure + 3.0)
    });
    assert_eq!(plain.len(), raised.len(), "breaths at the pressure and 3 cmH2O above it");
    for (a, b) in plain.iter().zip(&raised).skip(1) {
        let (onset, raised) = (a.onset.to_us(), b.onset.to_us());
        assert!(onset.abs_diff(raised) <= 10_000, "onset at {onset} us, raised at {raised} us");
        assert_eq!(a.kind, b.kind, "of the breath at {onset} us");
        let (one, other) = (inspired(a), inspired(b));
        assert!((one - other).abs() < 0.02, "{one} mL inspired, raised {other} mL");
        let (low, high) = (float(a.baseline.to_bits()), float(b.baseline.to_bits()));
        assert!((high - low - 3.0).abs() < 0.01, "baseline {low} cmH2O, raised by 3: {high} cmH2O");
    }
}

#[test]
fn a_higher_threshold_never_adds_self_cycling() {
    // One recording in which the leak reaches 4.5 mL/s at baseline, judged at rising thresholds.
    let scenario = Scenario {
        leak: LeakSettings { size: Schedule::constant(2.0), ..LeakSettings::default() },
        ..Scenario::default()
    };
    let mut simulator = Simulator::new(&scenario).unwrap();
    let mut readings = Vec::new();
    while readings.len() < 9_000 {
        let output = simulator.step();
        readings.extend(output.sample.map(|s| (simulated::at(&output), simulated::reading(&s))));
    }
    let self_cycled = |milli: i32| {
        let threshold = Threshold::new(Flow::from_milli(milli).value).unwrap();
        let settings = Settings::builder().threshold(threshold).build().unwrap();
        let mut monitor = Monitor::new(settings);
        for (at, reading) in &readings {
            let _ = monitor.push_at(*at, *reading);
        }
        monitor.synchrony().self_leak + monitor.synchrony().self_ripple
    };
    let counts: Vec<_> = [1_000, 2_000, 4_000, 6_000, 9_000, 14_000].map(self_cycled).to_vec();
    let said = format!("self-cycled inflations at 1, 2, 4, 6, 9 and 14 mL/s: {counts:?}");
    assert!(counts.windows(2).all(|pair| pair[1] <= pair[0]), "not falling: {said}");
    assert!(counts[0] > 20 && counts[5] == 0, "more than 20, then none: {said}");
}

#[test]
fn doubling_the_sampling_rate_changes_little() {
    let slow = breaths(10_000, 30, |t| breathing(t, 1.1, 5.0, 0.8));
    let fast = breaths(5_000, 30, |t| breathing(t, 1.1, 5.0, 0.8));
    assert_eq!(slow.len(), fast.len(), "breaths at 100 and at 200 readings a second");
    // An onset is dated back by at most 40 ms of creeping flow.
    for (a, b) in slow.iter().zip(&fast).skip(3) {
        assert!(
            a.onset.to_us().abs_diff(b.onset.to_us()) <= 40_000,
            "onset at {} us, at twice the rate at {} us",
            a.onset.to_us(),
            b.onset.to_us()
        );
        let (one, other) = (inspired(a), inspired(b));
        assert!((one - other).abs() <= 0.05, "{one} mL inspired, at twice the rate {other} mL");
    }
}
