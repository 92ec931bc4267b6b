//! What machines and infants do now and then, run as a whole.

use super::*;

/// The same as [`bench`], but a machine that waits for the infant.
fn waiting() -> Scenario {
    let machine = VentilatorSettings {
        pattern: Schedule::constant(Pattern::EveryBreath),
        set_rate: Schedule::constant(0.0),
        ..bench().machine
    };
    Scenario { machine, ..bench() }
}

#[test]
fn a_backup_rate_inflates_a_still_infant_and_gives_way_to_a_stirring_one() {
    // No effort up to 30 s: after 10 s 30 a minute, at 10, 12 … 28 and 30 s.
    let mut scenario = waiting();
    scenario.machine.backup = Some(BackupSettings { after: 10.0, rate: 30.0 });
    scenario.effort.rate = Schedule::constant(0.0).then(30.5, 60.0);
    let all = run(&scenario, 60);
    let timed: Vec<_> = all
        .breaths
        .iter()
        .filter(|b| b.cause == Some(Cause::Timed))
        .map(|b| (b.command_us.unwrap() as f64 / 1e6).round() as u32)
        .collect();
    assert_eq!(timed, (5..=15).map(|i| 2 * i).collect::<Vec<_>>());
    assert!(all.causes(Cause::Effort) >= 25, "{}", all.causes(Cause::Effort));
}

#[test]
fn beside_a_set_rate_the_backup_comes_on_top() {
    // 6 a minute at 10 s; then every 2 s from 20 s on, and the clock of the set rate adds none.
    let mut scenario = waiting();
    scenario.machine.pattern = Schedule::constant(Pattern::SetRate);
    scenario.machine.set_rate = Schedule::constant(6.0);
    scenario.machine.backup = Some(BackupSettings { after: 20.0, rate: 30.0 });
    let all = run(&scenario, 41);
    let at: Vec<_> = all.breaths.iter().map(|b| (b.onset_us + 500_000) / 1_000_000).collect();
    assert_eq!(at, [10, 20, 22, 24, 26, 28, 30, 32, 34, 36, 38]);
}

#[test]
fn a_leak_that_follows_the_head_is_booked_as_it_flows() {
    // Straight, 0.2 and 0.6 mL/s/cmH2O; at 40 a minute for 0.35 s of 15 over 5 cmH2O a breath of 1.5 s loses
    // 15 × 0.35 + 5 × 1.15 = 11 cmH2O·s of it: 2.2 mL with the head one way, 6.6 mL the other.
    let mut scenario = bench();
    scenario.leak.model = LeakModel::Laminar;
    scenario.leak.size = Schedule::constant(0.2);
    scenario.leak.position = Some(PositionSettings { factor: 3.0, stays: 20.0, takes: 0.0 });
    let all = run(&scenario, 300);
    let near = |ml: f64| all.breaths.iter().filter(|b| (b.leak - ml).abs() < 0.01).count();
    let (one, other) = (near(2.2), near(6.6));
    assert!(one > 60 && other > 60, "{one} {other}");
    // about 15 turns, each within one breath
    assert!(all.breaths.len() - one - other < 25, "{one} {other} of {}", all.breaths.len());
    assert!(all.breaths.iter().all(|b| b.leak < 6.61 && b.leak > 2.19));
}

#[test]
fn a_hiccup_is_an_effort_with_an_outcome_of_its_own() {
    // A passive infant with 20 hiccups a minute from 10 to 70 s, the machine waiting: each of 12 cmH2O draws
    // more than 4 mL/s and is served; each of 0.5 cmH2O draws less and is missed.
    let when = Windows::none().and(10.0, 70.0);
    let mut scenario = Scenario { tube: TubeSettings::default(), ..waiting() };
    let hiccup = HiccupSettings { when, rate: 20.0, amplitude: 12.0, duration: 0.15 };
    for (amplitude, outcome) in [(12.0, Outcome::Triggered), (0.5, Outcome::Missed)] {
        scenario.effort.hiccup = Some(HiccupSettings { amplitude, ..hiccup });
        let all = run(&scenario, 80);
        assert!((18..=20).contains(&all.efforts.len()), "{}", all.efforts.len());
        assert!(all.efforts.iter().all(|e| e.hiccup && e.outcome == outcome), "{:?}", all.efforts);
        let served = if outcome == Outcome::Triggered { all.efforts.len() } else { 0 };
        assert!(served.abs_diff(all.causes(Cause::Effort)) <= 1);
    }
}

#[test]
fn crying_presses_gas_out_below_rest_and_the_next_breath_brings_it_back() {
    // 10 cmH2O pressed for 2 s on 2 mL/cmH2O at 40 ms: the lung falls to 20 mL below rest at the middle of it,
    // so each breath moves nearly that; the infant's 3 cmH2O alone, half more by chance, bring in less than 9.
    let mut scenario = waiting();
    scenario.machine.pattern = Schedule::constant(Pattern::Timed);
    scenario.lung = LungSettings::single(20.0, 2.0);
    scenario.effort.rate = Schedule::constant(20.0);
    let when = Windows::none().and(20.0, 40.0);
    scenario.effort.cry = Some(CrySettings { when, depth: 1.0, press: 10.0, duration: 2.0 });
    let all = run(&scenario, 60);
    let at = |b: &TruthBreath| b.onset_us as f64 / 1e6;
    let least = |from: f64, to: f64| {
        let some = all.breaths.iter().filter(|b| at(b) > from && at(b) < to);
        some.map(|b| b.lung_expired).fold(f64::INFINITY, f64::min)
    };
    assert!(least(20.0, 38.0) > 19.0, "{}", least(20.0, 38.0));
    let calm = all.breaths.iter().filter(|b| at(b) < 19.0);
    assert!(calm.map(|b| b.lung_inspired).fold(0.0, f64::max) < 9.0);
    // Nothing is lost: what is pressed out comes back.
    let net = |b: &TruthBreath| b.lung_inspired - b.lung_expired;
    assert!(all.breaths.iter().map(net).sum::<f64>().abs() < 1.0);
    // Pressing is no effort to breathe in.
    assert!(all.efforts.iter().all(|e| e.end_us - e.start_us < 500_000 && !e.hiccup));
}

#[test]
fn an_adapting_machine_brings_the_volume_wanted_and_follows_a_stiffening_lung() {
    // Textbook closed form: 0.35 s is 3.5 τ of 0.1 s, so 2 mL/cmH2O × 0.9698 = 1.940 mL for each cmH2O: 12 mL
    // take 6.19 over 5; from 60 s on half of the compliance at the same τ takes 12.37.
    let mut scenario = bench();
    scenario.lung = LungSettings {
        compliance_factor: Schedule::constant(1.0).then(60.2, 0.5),
        resistance_factor: Schedule::constant(1.0).then(60.2, 2.0),
        ..LungSettings::single(50.0, 2.0)
    };
    scenario.machine.peak = Schedule::constant(25.0);
    scenario.machine.adapting = Some(AdaptingSettings { volume: 12.0, step: 2.0, least: 4.0 });
    let all = run(&scenario, 120);
    let last = |before: f64| {
        all.breaths.iter().rfind(|b| b.onset_us as f64 / 1e6 < before).copied().unwrap()
    };
    for (breath, rise) in [(last(58.0), 6.187), (last(118.0), 12.374)] {
        assert!((breath.lung_expired - 12.0).abs() < 0.02, "{breath:?}");
        assert!((breath.peak - 5.0 - rise).abs() < 0.02, "{breath:?}");
    }
    // The first is at the ceiling, and none moves by more than its step from the one before.
    assert!((all.breaths[0].peak - 25.0).abs() < 1e-9);
    assert!(all.breaths.windows(2).all(|p| (p[1].peak - p[0].peak).abs() < 2.0 + 1e-9));
}

#[test]
fn suction_takes_gas_that_goes_in_and_does_not_come_back() {
    // 50 mL/s by 100 cmH2O into a still lung without a tube: at 5 cmH2O 52.5 mL/s, at 15 57.5. A breath of 1.5 s
    // with 0.35 s at 15: 57.5 × 0.35 + 52.5 × 1.15 = 80.5 mL. The lung feels none of it.
    let mut scenario = bench();
    let when = Windows::none().and(20.0, 40.0);
    scenario.suction = Some(SuctionSettings { when, vacuum: 100.0, flow: 50.0, narrowing: 3.0 });
    let all = run(&scenario, 60);
    let drawn: Vec<_> = all.breaths.iter().filter(|b| b.handled).collect();
    // 13 from 21 to 40.5 s, the one from 19.5 s in part
    assert_eq!(drawn.len(), 14);
    for b in &drawn[1..12] {
        assert!((b.leak - 80.5).abs() < 0.01, "{b:?}");
        assert!((b.sensor_inspired - b.sensor_expired - b.leak).abs() < 1e-6, "{b:?}");
    }
    let same = |b: &TruthBreath| (b.lung_inspired - all.breaths[5].lung_inspired).abs() < 1e-6;
    assert!(all.breaths.iter().skip(5).all(same));
    assert!(all.breaths.iter().filter(|b| !b.handled).all(|b| b.leak == 0.0));
    // Through a tube it takes pressure from the lung: its end of expiration falls.
    scenario.tube = TubeSettings::default();
    let all = run(&scenario, 60);
    // At −2.9 cmH2O behind the tube 48.6 mL/s are drawn, for which it loses thrice 0.025 × 48.6 + 0.0006 × 2 358
    // = 7.9 of 5: 0.5 mL/cmH2O give up 3.9 mL and get them back at the end.
    let net = |b: &TruthBreath| b.lung_expired - b.lung_inspired;
    let (given, back) = all.breaths.iter().map(net).fold((0.0, 0.0), |(given, back), net| {
        if net > 0.5 { (given + net, back) } else { (given, back + (-net).max(0.0)) }
    });
    assert!((3.6..4.2).contains(&given) && (given - back).abs() < 0.3, "{given} {back}");
}

#[test]
fn an_open_circuit_leaves_the_infant_to_itself() {
    // A straight leak of 0.2 mL/s/cmH2O. Still infant, open from 20 to 40 s: the lung of 0.5 mL/cmH2O falls by 5
    // cmH2O, 2.5 mL, and stays there; no breath but the one that was under way.
    let mut scenario = bench();
    scenario.leak.model = LeakModel::Laminar;
    scenario.leak.size = Schedule::constant(0.2);
    let when = Windows::none().and(20.0, 40.0);
    for at in [OpenAt::Machine, OpenAt::Infant] {
        scenario.opening = Some(OpeningSettings { when, at });
        let all = run(&scenario, 60);
        let handled: Vec<_> = all.breaths.iter().filter(|b| b.handled).collect();
        assert!(handled.len() <= 2 && !handled.is_empty(), "{handled:?}");
        let net: f64 = handled.iter().map(|b| b.lung_expired - b.lung_inspired).sum();
        assert!(net.abs() < 2.6, "{net}");
        let lowest = handled.iter().map(|b| b.lung_expired - b.lung_inspired).fold(0.0, f64::max);
        assert!((lowest - 2.5).abs() < 0.01, "{lowest}");
        let during = all.samples[2_100..3_900].iter().flatten();
        for sample in during {
            assert!(sample.pressure.abs() < 1e-3, "{sample:?}");
            // 5 and 15 cmH2O over 0.05, square
            let seen = sample.flow;
            assert!(match at {
                OpenAt::Machine => seen.abs() < 1e-3,
                OpenAt::Infant => (seen - 100.0).abs() < 1e-3 || (seen - 300.0).abs() < 1e-3,
            });
        }
        // Gas is kept: sensor in − out = lung in − out + lost.
        for b in &all.breaths {
            let lung = b.lung_inspired - b.lung_expired;
            assert!((b.sensor_inspired - b.sensor_expired - lung - b.leak).abs() < 1e-6, "{b:?}");
        }
    }
}

#[test]
fn a_breath_at_ambient_pressure_is_seen_by_a_sensor_on_the_tube_alone() {
    // No breath is the machine's while it is open, though its clock inflates the room.
    let mut scenario = Scenario { effort: EffortSettings::default(), ..bench() };
    scenario.tube = TubeSettings::default();
    let when = Windows::none().and(20.0, 40.0);
    scenario.opening = Some(OpeningSettings { when, at: OpenAt::Machine });
    let all = run(&scenario, 60);
    let open = |b: &&TruthBreath| b.onset_us > 20_500_000 && b.end_us < 39_500_000;
    let breaths: Vec<_> = all.breaths.iter().filter(open).collect();
    assert!(breaths.len() > 10, "{}", breaths.len());
    assert!(breaths.iter().all(|b| b.handled && b.peak == 0.0 && b.baseline == 0.0));
    assert!(breaths.iter().all(|b| b.kind == Kind::Own && b.command_us.is_none()), "{breaths:?}");
    assert!(breaths.iter().all(|b| (b.sensor_inspired - b.lung_inspired).abs() < 1e-9));
    let during = |e: &&TruthEffort| e.start_us > 20_500_000 && e.end_us < 39_500_000;
    let efforts: Vec<_> = all.efforts.iter().filter(during).collect();
    assert!(efforts.iter().all(|e| matches!(e.outcome, Outcome::OwnBreath | Outcome::Missed)));
    // 3 cmH2O, half more by chance, on 0.5 mL/cmH2O
    assert!(breaths.iter().all(|b| b.lung_inspired < 2.3));
}

/// The machine waits for airway pressure to fall by 0.5 cmH2O, behind hoses of 50 cmH2O/(L/s): 10 mL/s.
fn by_pressure() -> Scenario {
    let mut scenario = waiting();
    scenario.machine.supply = Some(SupplySettings { resistance: 0.05, compliance: 0.4 });
    scenario.machine.trigger = Trigger::Pressure(0.5);
    scenario
}

#[test]
fn a_pressure_trigger_hears_an_infant_who_draws_enough() {
    let mut scenario = by_pressure();
    scenario.effort = EffortSettings { amplitude_jitter: 0.0, ..EffortSettings::default() };
    scenario.tube = TubeSettings::default();
    for (amplitude, outcome) in [(6.0, Outcome::Triggered), (0.8, Outcome::Missed)] {
        scenario.effort.amplitude = Schedule::constant(amplitude);
        let all = run(&scenario, 60);
        assert!(all.efforts.len() > 40);
        assert!(all.efforts.iter().all(|e| e.outcome == outcome), "{:?}", all.efforts);
        assert!(all.breaths.iter().all(|b| b.cause == Some(Cause::Effort)));
    }
}

#[test]
fn a_leak_that_costs_enough_pressure_sets_the_machine_off() {
    // Straight at L mL/s/cmH2O the airway stands at 5 ÷ (1 + 0.05 L): with L 2 at 4.545, 0.455 below; with 2.5
    // at 4.444, 0.556 below. With the leak taken off, neither.
    let mut scenario = by_pressure();
    scenario.leak.model = LeakModel::Laminar;
    for (size, compensation, goes_off) in [(2.0, 0.0, false), (2.5, 0.0, true), (2.5, 1.0, false)] {
        scenario.leak.size = Schedule::constant(size);
        scenario.machine.leak_compensation = compensation;
        let all = run(&scenario, 60);
        let late = all.breaths.iter().filter(|b| b.onset_us > 20_000_000);
        let causes: Vec<_> = late.map(|b| b.cause).collect();
        assert_eq!(causes.len() > 40, goes_off, "{size} {compensation} {}", causes.len());
        assert_eq!(causes.is_empty(), !goes_off);
        assert!(causes.iter().all(|cause| *cause == Some(Cause::SelfLeak)));
    }
}

#[test]
fn hoses_cost_pressure_while_gas_flows_through_them_alone() {
    // A long inflation fills the lung behind hoses as without: 2 mL/cmH2O × 10 = 20 mL.
    let mut scenario = bench();
    scenario.lung = LungSettings::single(50.0, 2.0);
    scenario.machine.inspiratory_time = 2.0;
    scenario.machine.set_rate = Schedule::constant(12.0);
    scenario.machine.supply = Some(SupplySettings { resistance: 0.05, compliance: 0.4 });
    let all = run(&scenario, 40);
    for b in &all.breaths {
        assert!((b.lung_inspired - 20.0).abs() < 0.01 && (b.peak - 15.0).abs() < 0.01, "{b:?}");
    }
}
