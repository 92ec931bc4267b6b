//! A flow that lags behind its pressure: the lag is learned, and compliance and resistance are given all the
//! same.

use tidevane::mechanics::FitOutcome;
use tidevane::monitor::{BreathReport, Monitor, Settings};
use tidevane::quantity::{Flow, Rate};
use tidevane::signal::Reading;
use tidevane::trigger::{self, Threshold};
use tidevane_sim::{Cause, EffortSettings, Scenario, Schedule, SensorSettings, Simulator};
use tidevane_support::scenario::passive;
use tidevane_support::simulated::{at, reading};
use tidevane_support::units::float;

/// Compliance (mL/cmH2O) and resistance (cmH2O·s/L): time constants of 50, 80 and 150 ms.
const LUNGS: [(f64, f64); 3] = [(0.5, 100.0), (1.0, 80.0), (2.0, 75.0)];

/// What the last 30 of some 60 breaths say, of a passive infant under a timer: the mean lag in ms, how many
/// have mechanics, and the means of C and R over the true ones.
fn seen((c, r): (f64, f64), filter_ms: f64, late: usize) -> (f64, usize, f64, f64) {
    let sensor =
        SensorSettings { flow_lag: filter_ms, pressure_lag: 0.0, ..SensorSettings::default() };
    let scenario = Scenario { period_us: 5_000, ..passive(1, c, r, sensor) };
    let threshold = Threshold::new(Flow::from_int(4)).unwrap();
    let settings = Settings::builder().threshold(threshold).set_rate(Rate::from_int(40));
    let mut monitor = Monitor::new(settings.build().unwrap());
    let mut run = Simulator::new(&scenario).unwrap();
    let (mut flows, mut breaths) = (vec![], vec![]);
    for _ in 0..90 * 200 {
        let output = run.step();
        let Reading { flow, pressure } = reading(&output.sample.unwrap());
        flows.push(flow);
        let flow = flows[flows.len().saturating_sub(1 + late)];
        breaths.extend(monitor.push_at(at(&output), Reading { flow, pressure }).breath);
    }
    let last = &breaths[breaths.len() - 30..];
    let lag =
        last.iter().map(|b| b.lag.map_or(0.0, |lag| lag.to_us() as f64 / 1e3)).sum::<f64>() / 30.0;
    let known: Vec<_> = last
        .iter()
        .filter_map(|b| match b.mechanics {
            FitOutcome::Known { compliance, resistance, .. } => {
                Some((float(compliance.to_bits()) / c, float(resistance.to_bits()) / r))
            }
            FitOutcome::Unknown(_) => None,
        })
        .collect();
    let mean =
        |part: fn(&(f64, f64)) -> f64| known.iter().map(part).sum::<f64>() / known.len() as f64;
    (lag, known.len(), mean(|x| x.0), mean(|x| x.1))
}

/// Whether nothing given strays further from the lung than these shares of C and R, and enough is given.
fn holds(lung: (f64, f64), filter_ms: f64, late: usize, (far_c, far_r): (f64, f64), least: usize) {
    let (lag, known, c, r) = seen(lung, filter_ms, late);
    let of = format!(
        "C, R {lung:?}, a filter of {filter_ms} ms and {} ms late: lag {lag:.1} ms, {known} of 30 \
         known, C x {c:.3}, R x {r:.3}",
        late * 5
    );
    println!("{of}");
    assert!(known >= least, "{of}; asked for {least}");
    assert!(known == 0 || (c - 1.0).abs() <= far_c && (r - 1.0).abs() <= far_r, "{of}");
}

#[test]
fn a_sensor_that_follows_slowly_is_found_out() {
    for lung in LUNGS {
        for ms in [0.0, 5.0, 10.0, 15.0] {
            holds(lung, ms, 0, (0.03, 0.09), 27);
        }
        // Blocks of 20 ms see less of a longer one: the resistance is high by up to a fifth.
        holds(lung, 20.0, 0, (0.03, 0.15), 27);
        holds(lung, 25.0, 0, (0.03, 0.2), 27);
    }
}

#[test]
fn a_sensor_that_answers_late_is_found_out_up_to_fifteen_milliseconds() {
    for lung in LUNGS {
        for late in 0..=2 {
            holds(lung, 0.0, late, (0.03, 0.08), 27);
        }
        holds(lung, 0.0, 3, (0.04, 0.12), 27);
        // Nothing false of a later one.
        for late in 4..=6 {
            holds(lung, 0.0, late, (0.04, 0.12), 0);
        }
    }
}

#[test]
fn a_clock_set_back_leaves_no_pressure_of_before() {
    // The same minute twice, its clock set back between: the second has mechanics as the first.
    let sensor = SensorSettings { flow_lag: 10.0, pressure_lag: 0.0, ..SensorSettings::default() };
    let scenario = Scenario { period_us: 5_000, ..passive(1, 1.0, 80.0, sensor) };
    let mut monitor = Monitor::new(Settings::default());
    let mut known = [(0, 0); 2];
    for part in &mut known {
        let mut run = Simulator::new(&scenario).unwrap();
        for _ in 0..60 * 200 {
            let output = run.step();
            let report = monitor.push_at(at(&output), reading(&output.sample.unwrap()));
            let Some(breath) = report.breath.filter(|b| b.breath.onset.to_us() > 30_000_000) else {
                continue;
            };
            part.1 += 1;
            part.0 += usize::from(matches!(breath.mechanics, FitOutcome::Known { .. }));
        }
    }
    // The breath that the clock cut is none of those.
    assert!(known.iter().all(|(known, all)| *known > 15 && known + 1 >= *all), "{known:?} of all");
}

#[test]
fn before_four_inflations_no_lag_is_known() {
    let sensor = SensorSettings { flow_lag: 10.0, pressure_lag: 0.0, ..SensorSettings::default() };
    let scenario = Scenario { period_us: 5_000, ..passive(1, 1.0, 80.0, sensor) };
    let mut monitor = Monitor::new(Settings::default());
    let mut run = Simulator::new(&scenario).unwrap();
    let mut lags = vec![];
    for _ in 0..20 * 200 {
        let output = run.step();
        let report = monitor.push_at(at(&output), reading(&output.sample.unwrap()));
        lags.extend(report.breath.map(|breath| breath.lag));
    }
    assert!(
        lags[..4].iter().all(Option::is_none) && lags[7..].iter().all(Option::is_some),
        "{lags:?}"
    );
}

/// Of inflations that the infant, and that the timer set off, in five minutes after two of both: how many were told as
/// the infant's, the timer's, and not at all. A minute with efforts, one without; flow `late` samples of 5 ms,
/// or pressure `-late`.
fn told_of(late: isize) -> [[usize; 3]; 2] {
    let by = |late: isize| usize::try_from(late).unwrap_or(0);
    let (flow_late, pressure_late) = (by(late), by(-late));
    let rate = (1..7).fold(Schedule::constant(50.0), |rate, minute| {
        rate.then(60.0 * f64::from(minute), if minute % 2 == 0 { 50.0 } else { 0.0 })
    });
    let effort = EffortSettings { rate, ..EffortSettings::default() };
    let scenario = Scenario { period_us: 5_000, effort, ..Scenario::default() };
    let set = scenario.machine.threshold.at(0.0);
    let threshold = Threshold::new(Flow::from_bits((set * 65_536.0) as i32)).unwrap();
    let settings = Settings::builder().threshold(threshold);
    let mut monitor = Monitor::new(settings.build().unwrap());
    let mut run = Simulator::new(&scenario).unwrap();
    let (mut read, mut told, mut truth) = (vec![], vec![], vec![]);
    for _ in 0..420 * 200 {
        let output = run.step();
        read.push(reading(&output.sample.unwrap()));
        let before = |late: usize| read[read.len().saturating_sub(1 + late)];
        let (flow, pressure) = (before(flow_late).flow, before(pressure_late).pressure);
        truth.extend(output.breath);
        told.extend(monitor.push_at(at(&output), Reading { flow, pressure }).breath);
    }
    let mut counts = [[0; 3]; 2];
    for breath in &truth {
        let of = match breath.cause {
            Some(Cause::Effort) => 0,
            Some(Cause::Timed) => 1,
            _ => continue,
        };
        let near = |b: &&BreathReport| {
            b.breath.onset.to_us().abs_diff(breath.onset_us + 5_000 * flow_late as u64) < 100_000
        };
        let Some(found) = told.iter().find(near).filter(|_| breath.onset_us > 120_000_000) else {
            continue;
        };
        let Some(initiation) = found.initiation else { continue };
        let place = match initiation.cause {
            trigger::Cause::Effort => 0,
            trigger::Cause::Timed => 1,
            _ => 2,
        };
        counts[of][place] += 1;
    }
    counts
}

#[test]
fn flow_that_is_late_names_no_timer_for_what_the_infant_set_off() {
    for late in [0, 1, 2, 4, 6, 10, 20] {
        let [effort, timed] = told_of(late);
        let of = format!("{} ms late: infant's {effort:?}, timer's {timed:?}", 5 * late);
        println!("{of}");
        assert!(effort.iter().sum::<usize>() > 130 && timed.iter().sum::<usize>() > 75, "{of}");
        // Never the one for the other; and without a lag both are told.
        assert_eq!((effort[1], timed[0]), (0, 0), "{of}");
        assert!(late > 0 || effort[2] + timed[2] == 0, "{of}");
    }
}

#[test]
fn pressure_that_is_late_names_nobody() {
    // From half an inflation's rise on; less leaves a timed one that looks like an effort.
    for late in [6, 10, 20] {
        let [effort, timed] = told_of(-late);
        let of = format!("pressure {} ms late: infant's {effort:?}, timer's {timed:?}", 5 * late);
        println!("{of}");
        assert!(effort[2] > 130 && timed[2] > 75, "{of}");
        assert_eq!((effort[0] + effort[1], timed[0] + timed[1]), (0, 0), "{of}");
    }
}
