//! The whole simulator against published values and plain arithmetic.

#![expect(clippy::integer_division_remainder_used, reason = "counts samples")]

use super::*;
use std::vec::Vec;

mod unusual;

struct Run {
    samples: Vec<Option<SimSample>>,
    breaths: Vec<TruthBreath>,
    efforts: Vec<TruthEffort>,
}

impl Run {
    fn causes(&self, cause: Cause) -> usize {
        self.breaths.iter().filter(|b| b.cause == Some(cause)).count()
    }

    fn outcomes(&self, outcome: Outcome) -> usize {
        self.efforts.iter().filter(|e| e.outcome == outcome).count()
    }
}

fn run(scenario: &Scenario, seconds: u32) -> Run {
    let mut simulator = Simulator::new(scenario).unwrap();
    let mut all = Run { samples: Vec::new(), breaths: Vec::new(), efforts: Vec::new() };
    for _ in 0..u64::from(seconds) * 1_000_000 / u64::from(scenario.period_us) {
        let output = simulator.step();
        all.samples.push(output.sample);
        all.breaths.extend(output.breath);
        all.efforts.extend(output.effort);
    }
    all
}

fn seconds(later: u64, earlier: u64) -> f64 {
    (later - earlier) as f64 / 1e6
}

/// No effort, square pressure, no tube, a perfect sensor.
fn bench() -> Scenario {
    Scenario {
        tube: TubeSettings::NONE,
        effort: EffortSettings { rate: Schedule::constant(0.0), ..EffortSettings::default() },
        machine: VentilatorSettings {
            pattern: Schedule::constant(Pattern::Timed),
            rise_time: 0.0,
            ..VentilatorSettings::default()
        },
        sensor: SensorSettings::perfect(),
        ..Scenario::default()
    }
}

#[test]
fn a_passive_lung_takes_the_closed_form_volume() {
    // Textbook: C × ΔP × (1 − exp(−Ti/τ)) with C 2, ΔP 10, τ 0.2, Ti 0.4 gives 17.293 mL. Te 4.6 s
    // is 23 τ, so the lung starts each time from rest.
    let scenario = Scenario {
        lung: LungSettings::single(100.0, 2.0),
        machine: VentilatorSettings {
            inspiratory_time: 0.4,
            set_rate: Schedule::constant(12.0),
            ..bench().machine
        },
        ..bench()
    };
    let all = run(&scenario, 60);
    assert_eq!(all.breaths.len(), 10); // due at 5 … 55 s; the last is still open
    for b in &all.breaths {
        assert!((b.lung_inspired - 17.293).abs() < 1e-3, "{b:?}");
        assert!((b.lung_expired - b.lung_inspired).abs() < 1e-6);
        assert!((b.resistance - 100.0).abs() < 1e-6 && (b.compliance - 2.0).abs() < 1e-9);
        assert!((seconds(b.end_inspiration_us, b.onset_us) - 0.4).abs() < 1e-6);
        assert_eq!((b.kind, b.cause), (Kind::Inflation, Some(Cause::Timed)));
        assert!((b.peak - 15.0).abs() < 1e-9 && (b.baseline - 5.0).abs() < 1e-9);
    }
}

#[test]
fn gas_is_trapped_when_expiration_is_short() {
    // Textbook, periodic state: Vee = C ΔP (1 − a) b ÷ (1 − ab), a = e^(−Ti/τ), b = e^(−Te/τ);
    // C 2, τ 0.2, Ti 0.4, Te 0.2 → 6.695 mL left, so 20 (1 − a) − Vee (1 − a) = 11.504 mL tidal.
    let scenario = Scenario {
        lung: LungSettings::single(100.0, 2.0),
        machine: VentilatorSettings {
            inspiratory_time: 0.4,
            set_rate: Schedule::constant(100.0),
            ..bench().machine
        },
        ..bench()
    };
    let last = run(&scenario, 30).breaths.last().copied().unwrap();
    let tidal = (20.0 - 6.695) * (1.0 - (-2.0_f64).exp());
    assert!((last.lung_inspired - tidal).abs() < 2e-3, "{} {tidal}", last.lung_inspired);
}

#[test]
fn a_square_wave_leaks_what_arithmetic_says() {
    // Derived here by arithmetic: 20/5 cmH2O, Ti 0.35, Te 0.65, laminar g = 0.02 L/min/cmH2O =
    // 1/3 mL/s/cmH2O: 20/3 × 0.35 = 2.333 mL in inspiration, 5/3 × 0.65 = 1.083 in expiration.
    let scenario = Scenario {
        leak: LeakSettings {
            model: LeakModel::Laminar,
            size: Schedule::constant(1.0 / 3.0),
            ..LeakSettings::default()
        },
        machine: VentilatorSettings {
            peak: Schedule::constant(20.0),
            set_rate: Schedule::constant(60.0),
            ..bench().machine
        },
        ..bench()
    };
    let b = run(&scenario, 20).breaths.last().copied().unwrap();
    assert!((b.sensor_inspired - b.lung_inspired - 2.333_333).abs() < 1e-4, "{b:?}");
    assert!((b.lung_expired - b.sensor_expired - 1.083_333).abs() < 1e-4, "{b:?}");
    assert!((b.leak_share - b.leak / b.sensor_inspired).abs() < 1e-12);
}

#[test]
fn what_does_not_come_back_has_leaked() {
    // Conservation of gas: sensor in − out = lung in − out + leak, for each model and site; in a
    // passive lung at its periodic state the lung's part is nothing.
    for site in [LeakSite::Sensor, LeakSite::Trachea] {
        for model in [LeakModel::Orifice, LeakModel::Laminar, LeakModel::OpensAbove(10.0)] {
            let scenario = Scenario {
                leak: LeakSettings { model, site, size: Schedule::constant(0.5), position: None },
                tube: TubeSettings::default(),
                ..bench()
            };
            let b = run(&scenario, 20).breaths.last().copied().unwrap();
            assert!(b.leak > 0.1, "{b:?}");
            assert!((b.sensor_inspired - b.sensor_expired - b.leak).abs() < 1e-6, "{b:?}");
        }
    }
}

#[test]
fn published_models_stay_plausible() {
    // Bench infant models of Vignaux 2014, Respir Care 59: R 100 C 2, R 50 C 5, R 30 C 10. Without
    // tube and effort none takes more than C × ΔP, and all but that within 3 τ (95 %).
    for (r, c) in [(100.0, 2.0), (50.0, 5.0), (30.0, 10.0)] {
        let scenario = Scenario {
            lung: LungSettings::single(r, c),
            machine: VentilatorSettings {
                inspiratory_time: 3.0 * r * c / 1_000.0,
                set_rate: Schedule::constant(10.0),
                ..bench().machine
            },
            ..bench()
        };
        let b = run(&scenario, 40).breaths.last().copied().unwrap();
        assert!((b.lung_inspired / (10.0 * c) - 0.950_213).abs() < 2e-3, "{b:?}");
    }
}

fn leaky(threshold: f64) -> Scenario {
    Scenario {
        leak: LeakSettings { size: Schedule::constant(2.0), ..LeakSettings::default() },
        machine: VentilatorSettings {
            set_rate: Schedule::constant(0.0),
            threshold: Schedule::constant(threshold),
            ..VentilatorSettings::default()
        },
        effort: bench().effort,
        ..Scenario::default()
    }
}

#[test]
fn leak_sets_the_machine_off_until_the_threshold_is_raised() {
    // Bernstein 1995, Crit Care Med 23:1739-1744: at a set rate of 0 any inflation of a passive
    // lung is self-cycling; less of it at a higher threshold. Derived here: 2 × √5 = 4.47 mL/s of
    // leak at baseline, so 4 is passed and 5 is not.
    let sensitive = run(&leaky(4.0), 60);
    assert!(sensitive.breaths.len() > 60, "{}", sensitive.breaths.len());
    assert_eq!(sensitive.causes(Cause::SelfLeak), sensitive.breaths.len());
    let raised = run(&leaky(5.0), 60);
    assert_eq!(raised.breaths.len(), 0);
    let more = run(&leaky(1.0), 60).breaths.len();
    assert!(more >= sensitive.breaths.len());
    // and compensation does the same as a threshold
    let mut compensated = leaky(4.0);
    compensated.machine.leak_compensation = 1.0;
    let late = run(&compensated, 60);
    assert!(late.breaths.iter().all(|b| b.onset_us < 20_000_000), "{}", late.breaths.len());
}

#[test]
fn a_heartbeat_above_the_threshold_sets_the_machine_off() {
    // Derived here: a ripple of 5 mL/s passes a threshold of 4 without leak, one of 3 does not.
    let mut scenario = leaky(4.0);
    scenario.leak = LeakSettings::default();
    scenario.sensor.ripple = Schedule::constant(5.0);
    let all = run(&scenario, 60);
    assert!(all.breaths.len() > 40);
    assert_eq!(all.causes(Cause::SelfRipple), all.breaths.len());
    scenario.sensor.ripple = Schedule::constant(3.0);
    assert_eq!(run(&scenario, 60).breaths.len(), 0);
    // water of 8 mL/s spread does it only in its window
    scenario.sensor.water = Windows::none().and(20.0, 30.0);
    let wet = run(&scenario, 60);
    assert!(wet.causes(Cause::SelfWater) > 3);
    assert!(wet.breaths.iter().all(|b| (20_000_000..31_000_000).contains(&b.onset_us)));
}

#[test]
fn the_set_rate_is_kept_and_the_rest_are_own_breaths() {
    // Derived here: in 10 minutes 20 a minute make 200 inflations, the first due at 3 s.
    let scenario = Scenario {
        machine: VentilatorSettings {
            pattern: Schedule::constant(Pattern::SetRate),
            set_rate: Schedule::constant(20.0),
            ..VentilatorSettings::default()
        },
        effort: EffortSettings {
            amplitude: Schedule::constant(5.0),
            rate: Schedule::constant(50.0),
            ..EffortSettings::default()
        },
        ..Scenario::default()
    };
    let all = run(&scenario, 600);
    let inflations: Vec<_> = all.breaths.iter().filter(|b| b.kind == Kind::Inflation).collect();
    assert!((198..=200).contains(&inflations.len()), "{}", inflations.len());
    // none comes before its window of 0.4 × 3 s opens or after it is due
    for pair in inflations.windows(2) {
        let apart = seconds(pair[1].command_us.unwrap(), pair[0].command_us.unwrap());
        assert!((1.79..4.21).contains(&apart), "{apart}");
    }
    assert!(all.causes(Cause::Effort) > 100, "{}", all.causes(Cause::Effort));
    assert!(all.outcomes(Outcome::OwnBreath) > 200);
    assert!(all.breaths.iter().all(|b| !b.supported));
    // support helps own breaths and leaves the rate of full inflations alone
    let mut helped = scenario;
    helped.machine.support = Schedule::constant(6.0);
    let all_helped = run(&helped, 600);
    let own = |r: &Run| {
        let v: Vec<f64> =
            r.breaths.iter().filter(|b| b.kind == Kind::Own).map(|b| b.lung_inspired).collect();
        v.iter().fold(0.0, |a, b| a + b) / v.len() as f64
    };
    assert!(own(&all_helped) > 1.2 * own(&all), "{} {}", own(&all_helped), own(&all));
    let full = all_helped.breaths.iter().filter(|b| b.kind == Kind::Inflation).count();
    assert!((198..=200).contains(&full), "{full}");
}

#[test]
fn a_long_refractory_time_serves_every_second_effort() {
    // Bernstein 1993, Am Rev Respir Dis 148:358-364: breaths every 0.75 s, Ti 0.4 s and a
    // refractory time of 0.4 s leave alternate breaths unserved; response time 53 ms. Efforts of
    // 0.12 s, so that the unserved one is fading (peak at 0.75 + 0.62 × 0.12 = 0.82 s) when the
    // machine listens again (0.053 + 0.4 + 0.4 = 0.85 s after it found the served one).
    let mut scenario = Scenario {
        machine: VentilatorSettings {
            inspiratory_time: 0.4,
            refractory: 0.4,
            trigger_delay: 0.053,
            set_rate: Schedule::constant(0.0),
            ..VentilatorSettings::default()
        },
        effort: EffortSettings {
            rate: Schedule::constant(80.0),
            duration: 0.12,
            rate_jitter: 0.0,
            amplitude_jitter: 0.0,
            duration_jitter: 0.0,
            ..EffortSettings::default()
        },
        ..Scenario::default()
    };
    let served = |r: &Run| r.outcomes(Outcome::Triggered) as f64 / r.efforts.len() as f64;
    let all = run(&scenario, 120);
    assert!((served(&all) - 0.5).abs() < 0.02, "{}", served(&all));
    scenario.machine.refractory = 0.2;
    assert!(served(&run(&scenario, 120)) > 0.98);
}

#[test]
fn the_same_seed_gives_the_same_bits() {
    let bits = |seed: u64, period_us: u32| {
        let scenario = Scenario { seed, period_us, ..demo::shift() };
        run(&scenario, 30)
    };
    let (one, again, other) = (bits(1, 5_000), bits(1, 5_000), bits(2, 5_000));
    assert!(one.samples == again.samples && one.breaths == again.breaths);
    assert!(one.samples != other.samples && one.efforts != other.efforts);
    // The sensor's noise does not touch what it measures.
    let mut loud = Scenario { seed: 1, period_us: 5_000, ..demo::shift() };
    loud.sensor.flow_noise = 3.0;
    assert!(run(&loud, 30).breaths == one.breaths);
}

#[test]
fn the_shift_gives_the_same_bits_on_every_platform() {
    // No outside source: recorded from this code, so that a platform, a compiler or a change that
    // moves a single bit is seen. FNV-1a over the first minute's raw values.
    let hash = run(&demo::shift(), 60).samples.iter().flatten().fold(
        0xcbf2_9ce4_8422_2325_u64,
        |hash, s| {
            let bytes = [s.flow_bits().to_le_bytes(), s.pressure_bits().to_le_bytes()];
            bytes
                .as_flattened()
                .iter()
                .fold(hash, |h, b| (h ^ u64::from(*b)).wrapping_mul(0x100_0000_01b3))
        },
    );
    assert_eq!(hash, 0x5623_06b3_24ff_575b, "{hash:#x}");
}

#[test]
fn odd_sampling_periods_find_the_same_lung() {
    // Derived here: the inner step is at most 0.5 ms at every rate, so the mean volume of a passive
    // lung is the same to 0.1 %.
    let volume = |period_us| {
        let scenario = Scenario { period_us, ..bench() };
        run(&scenario, 20).breaths.last().copied().unwrap().lung_inspired
    };
    let reference = volume(1_000);
    for period_us in [1_337, 3_001, 7_777, 10_000, 20_000] {
        assert!((volume(period_us) / reference - 1.0).abs() < 1e-3, "{period_us}");
    }
}

#[test]
fn silent_and_stuck_spans_are_marked_in_samples_and_truth() {
    let mut scenario = Scenario::default();
    scenario.sensor.dropout = Windows::none().and(10.0, 12.0);
    scenario.sensor.stuck = Windows::none().and(20.0, 21.0);
    let all = run(&scenario, 40);
    for (i, sample) in all.samples.iter().enumerate() {
        assert_eq!(sample.is_none(), (1_000..1_200).contains(&i), "{i}");
    }
    assert!(all.samples[2_000..2_100].iter().all(|s| *s == all.samples[2_000]));
    for b in &all.breaths {
        let (from, to) = (b.onset_us, b.end_us);
        let touched = |a: u64, z: u64| from < z - 10_000 && to > a;
        let clear = to < 9_990_000 || (from > 12_010_000 && to < 19_990_000) || from > 21_010_000;
        if clear {
            assert!(!b.touched_by_fault, "{b:?}");
        } else if touched(10_000_000, 12_000_000) || touched(20_000_000, 21_000_000) {
            assert!(b.touched_by_fault, "{b:?}");
        }
    }
    assert!(all.breaths.iter().any(|b| b.touched_by_fault));
}

/// The shift, run once for all who ask.
fn shift() -> &'static Run {
    static SHIFT: std::sync::OnceLock<Run> = std::sync::OnceLock::new();
    SHIFT.get_or_init(|| run(&demo::shift(), demo::DURATION_S))
}

#[test]
fn breaths_join_without_gap_and_efforts_are_all_accounted_for() {
    let all = shift();
    for b in &all.breaths {
        assert!(b.onset_us < b.end_inspiration_us && b.end_inspiration_us < b.end_us, "{b:?}");
        assert!(b.lung_inspired >= 0.4, "{b:?}");
        assert!(
            (b.sensor_inspired - b.sensor_expired - b.leak - b.lung_inspired + b.lung_expired)
                .abs()
                < 1e-6
        );
        assert!(b.resistance > 95.0 && b.resistance < 170.0, "{b:?}");
    }
    assert!(all.breaths.windows(2).all(|p| p[0].end_us == p[1].onset_us));
    assert!(all.efforts.windows(2).all(|p| p[0].end_us <= p[1].start_us));
    // Efforts by minutes: 44 × 45, 48 × 85, 52 × 10, 62 × 5, 70 × 13, 50 × 82, 56 × 15, 50 × 15
    // = 1 980 + 4 080 + 520 + 310 + 910 + 4 100 + 840 + 750 = 13 490, within 1 %.
    assert!((13_350..=13_630).contains(&all.efforts.len()), "{}", all.efforts.len());
}

#[test]
fn the_shift_tells_its_story() {
    let all = shift();
    let count = |from: f64, to: f64, what: fn(&TruthBreath) -> bool| {
        let inside = |b: &&TruthBreath| {
            let at = b.onset_us as f64 / 1e6;
            at >= from && at < to && what(b)
        };
        all.breaths.iter().filter(inside).count()
    };
    let own_cause = |b: &TruthBreath| b.cause == Some(Cause::SelfLeak);
    let full = |b: &TruthBreath| b.kind == Kind::Inflation;
    // quiet start: no self-cycling; about 44 inflations a minute, as many as efforts
    assert_eq!(count(0.0, demo::LEAK_GROWS_S, own_cause), 0);
    let quiet = count(60.0, 660.0, full);
    assert!((410..=470).contains(&quiet), "{quiet}");
    // the stretch: twice that, mostly by itself
    let selfmade = count(demo::LEAK_GROWS_S, demo::LEAK_FALLS_S, own_cause);
    assert!(selfmade > 600, "{selfmade}");
    assert!(count(demo::LEAK_GROWS_S, demo::LEAK_FALLS_S, full) > 1_000);
    // none afterwards, not even with the head turned
    assert_eq!(count(demo::THRESHOLD_RISES_S + 2.0, 1e9, own_cause), 0);
    let turned: Vec<_> = all
        .breaths
        .iter()
        .filter(|b| {
            let at = b.onset_us as f64 / 1e6;
            at >= demo::HEAD_TURNED_S.0 + 10.0 && at < demo::HEAD_TURNED_S.1
        })
        .collect();
    let lost: f64 = turned.iter().map(|b| b.sensor_inspired - b.sensor_expired).sum();
    let moved: f64 = turned.iter().map(|b| b.sensor_inspired).sum();
    assert!((0.42..0.62).contains(&(lost / moved)), "{}", lost / moved);
    // weaning: 30, 20, 5, 20, 15, 10, 0, 10 a minute
    for (from, to, rate) in [
        (3_600.0, 4_800.0, 30),
        (4_800.0, demo::TOO_LARGE_S.0, 20),
        (demo::TOO_LARGE_S.0, demo::TOO_LARGE_S.1, 5),
        (demo::TOO_LARGE_S.1, 11_100.0, 20),
        (11_100.0, 12_300.0, 15),
        (12_300.0, demo::TRIAL_S.0, 10),
        (demo::TRIAL_S.0, demo::TRIAL_S.1, 0),
        (demo::TRIAL_S.1, 16_200.0, 10_usize),
    ] {
        let expected = rate * ((to - from) / 60.0) as usize;
        let seen = count(from, to, full);
        assert!(seen.abs_diff(expected) <= 2, "{from} {seen} {expected}");
    }
    // the step too large: the infant's breaths become faster and smaller
    let usual = |from: f64, to: f64| {
        let own = all.breaths.iter().filter(|b| {
            let at = b.onset_us as f64 / 1e6;
            at >= from && at < to && b.kind == Kind::Own
        });
        let volumes: Vec<_> = own.map(|b| b.lung_inspired).collect();
        (volumes.len(), volumes.iter().sum::<f64>() / volumes.len() as f64)
    };
    let start = demo::TOO_LARGE_S.0;
    let (fresh, tired) =
        (usual(start + 60.0, start + 360.0), usual(start + 1_000.0, start + 1_300.0));
    assert!(tired.0 * 10 > fresh.0 * 12 && tired.1 < 0.8 * fresh.1, "{fresh:?} {tired:?}");
}

#[test]
fn a_stiffening_lung_takes_less() {
    // Textbook closed form before and after: C 2 then 1, R 100 then 200, τ 0.2 s both times, so
    // 17.293 mL and half of it.
    let mut scenario = bench();
    scenario.lung = LungSettings {
        compliance_factor: Schedule::constant(1.0).then(33.0, 0.5),
        resistance_factor: Schedule::constant(1.0).then(33.0, 2.0),
        ..LungSettings::single(100.0, 2.0)
    };
    scenario.machine.inspiratory_time = 0.4;
    scenario.machine.set_rate = Schedule::constant(12.0);
    let all = run(&scenario, 62);
    let (first, last) = (all.breaths[0], all.breaths[all.breaths.len() - 1]);
    assert!((first.lung_inspired - 17.293).abs() < 1e-3, "{first:?}");
    assert!((last.lung_inspired - 8.647).abs() < 1e-3, "{last:?}");
    assert!((last.compliance - 1.0).abs() < 1e-9 && (last.resistance - 200.0).abs() < 1e-6);
}
