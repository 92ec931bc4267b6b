//! The numbers that come out, down to the last bit, as a digest for each of a few inputs.
//!
//! Whether a number is right is for the other tests. This one tells that none changes unnoticed: the
//! changelog promises that a change in the last bit raises the version. Where a change is meant, take
//! the new digests from the failure, run with `LANDMARKS=save`, and write into the changelog what changed.

mod landmarks;
mod rows;

use landmarks::Landmarks;
use rows::*;
use tidevane::alarm::{
    BreathKind, Burden, LevelAdvice, LimitAlarm, Limits, VitalSigns, VolumeHistory,
};
use tidevane::monitor::{EventKind, Monitor, Report};
use tidevane::quantity::{Duration, Flow, Instant, Pressure, Rate, Tick, Volume};
use tidevane::signal::Sample;
use tidevane::trigger::Threshold;
use tidevane_sim::{
    EffortSettings, LeakSettings, LungSettings, Pattern, Scenario, Schedule, SensorSettings,
    Simulator, VentilatorSettings, demo,
};
use tidevane_support::digest::Digest;
use tidevane_support::fuzzed::setup::{Setup, setup};
use tidevane_support::fuzzed::stream::{Input, decode};
use tidevane_support::paths;
use tidevane_support::simulated::{at, reading};
use tidevane_support::tape;

/// A monitor, and all that it and what stands beside it have said.
struct Told {
    monitor: Monitor,
    history: VolumeHistory,
    burden: Burden,
    digest: Digest,
    breaths: u32,
    /// All parts of each so many breaths are kept.
    stops: u32,
    landmarks: Landmarks,
}

impl Told {
    fn new(setup: &Setup) -> Self {
        Self {
            monitor: Monitor::new(setup.settings),
            history: VolumeHistory::default(),
            burden: Burden::default(),
            digest: Digest::default(),
            breaths: 0,
            stops: 1_000,
            landmarks: Landmarks::default(),
        }
    }

    fn hear(&mut self, report: &Report) {
        if report.breath.is_none() && report.events.is_empty() {
            return;
        }
        self.digest.take(REPORT, report);
        assert_eq!(tape::there_and_back(report).as_ref(), Some(report));
        for event in &report.events {
            if let EventKind::Alarm(alarm) = &event.what {
                self.burden.learn(alarm);
            }
        }
        let Some(closed) = &report.breath else { return };
        let breath = &closed.breath;
        self.history.learn(&closed.view());
        let volumes = (breath.inspired, breath.expired);
        self.digest.take(VOLUMES, &volumes);
        self.digest.take(VALUE, &breath.mean_pressure());
        self.digest.take(VOLUMES, &breath.rate());
        self.digest.take(VALUE, &(breath.insp_time(), breath.exp_time()));
        self.digest.take(VALUE, &breath.is_ended_by_infant(Flow::ZERO));
        self.digest.take(TREND_BREATH, &closed.for_trend());
        self.digest.take(LOAD, &self.monitor.verdict());
        self.digest.take(LEAK_FIT, &self.monitor.leak_fit());
        self.digest.take(ADVICE, &self.monitor.threshold_advice());
        self.digest.take(JUDGEMENT, &self.monitor.threshold_judgement());
        self.digest.take(SYNCHRONY, self.monitor.synchrony());
        self.breaths += 1;
        if self.breaths.is_multiple_of(self.stops) {
            self.landmarks.stop(&format!("breath {}", self.breaths), self.digest.0, report);
        } else if self.breaths.is_multiple_of(20) {
            self.landmarks.pass(&format!("breath {}", self.breaths), self.digest.0);
        }
    }

    fn finish(&mut self) {
        loop {
            let report = self.monitor.finish();
            self.hear(&report);
            if report.is_silent() {
                return;
            }
        }
    }

    fn end(mut self) -> (u64, Landmarks) {
        self.finish();
        let trend = self.monitor.trend();
        for tally in [trend.recent(), Some(*trend.baseline()), trend.before().copied()] {
            self.digest.take(TALLY, &tally);
        }
        self.digest.take(VALUE, &trend.step());
        assert_eq!(tape::there_and_back(&self.history).as_ref(), Some(&self.history));
        for expected in self.monitor.threshold_table() {
            self.digest.take(EXPECTED, &expected);
        }
        for kind in BreathKind::ALL {
            for percent in [50, 95] {
                let advice = LevelAdvice::new(Volume::from_int(1), percent).unwrap();
                self.digest.take(LEVEL, &advice.advise(&self.history, kind));
            }
            for low in 1..8 {
                let limits = Limits::new(Some(Volume::from_int(low)), None).unwrap();
                let alarm = LimitAlarm::new(limits, Duration::ZERO, Volume::ZERO, false).unwrap();
                self.digest.take(REHEARSAL, &self.history.rehearse(kind, &alarm));
            }
        }
        self.digest.take(BURDEN, &self.burden);
        (self.digest.0, self.landmarks)
    }
}

/// A simulated recording of a scenario.
fn simulated(
    told: &mut Told,
    scenario: &Scenario,
    seconds: u64,
    mut before: impl FnMut(&mut Told, u64),
) {
    let mut simulator = Simulator::new(scenario).unwrap();
    loop {
        let output = simulator.step();
        let us = output.at_us;
        if us >= seconds * 1_000_000 {
            return;
        }
        before(told, us);
        match output.sample {
            Some(sample) => {
                let report = told.monitor.push_at(at(&output), reading(&sample));
                told.hear(&report);
            }
            None => {
                let report = told.monitor.lost();
                told.hear(&report);
            }
        }
    }
}

/// The machine is set anew.
fn set_anew(told: &mut Told, us: u64, now: &demo::Dialled) {
    let cmh2o = |x: f64| Pressure::from_bits((x * 65_536.0) as i32);
    let threshold = Flow::from_bits((now.threshold * 65_536.0) as i32);
    let change = told.monitor.settings().change().peak(cmh2o(now.peak));
    let change = match now.support_peak {
        Some(peak) => change.support_peak(cmh2o(peak)),
        None => change,
    };
    let change = change.threshold(Threshold::new(threshold).unwrap());
    let rate = Rate::from_bits((now.set_rate * 65_536.0) as i32);
    let settings = change.set_rate(rate).build().unwrap();
    let report = told.monitor.settings_changed(Instant::from_us(us), settings);
    told.hear(&report);
}

/// Sixteen minutes that lead through every path.
fn every_path() -> (u64, Landmarks) {
    let (scenario, mut told) = (paths::scenario(), Told::new(&setup(2)));
    told.stops = 100;
    let mut simulator = Simulator::new(&scenario).unwrap();
    let mut dialled = None;
    for n in 0..paths::SECONDS * 100 {
        let output = simulator.step();
        let (us, seconds) = (output.at_us, output.at_us as f64 / 1e6);
        let set = &scenario.machine;
        let now = demo::Dialled {
            threshold: set.threshold.at(seconds),
            set_rate: set.set_rate.at(seconds),
            peak: set.peak.at(seconds),
            support_peak: None,
        };
        if dialled.replace(now) != Some(now) {
            set_anew(&mut told, us, &now);
        }
        let anew = us >= paths::CLOCK_RESET_S * 1_000_000;
        let own = if anew { us - paths::CLOCK_RESET_S * 1_000_000 } else { us };
        let sample = output.sample.and_then(|sample| paths::failing(seconds, n, reading(&sample)));
        let report = match sample {
            Some(reading) => told.monitor.push_at(Instant::from_us(own), reading),
            None => told.monitor.lost(),
        };
        told.hear(&report);
    }
    told.end()
}

fn demo_shift() -> (u64, Landmarks) {
    let (shift, mut told) = (demo::shift(), Told::new(&setup(2)));
    let mut dialled = None;
    simulated(&mut told, &shift, demo::DURATION_S.into(), |told, us| {
        if !us.is_multiple_of(1_000_000) {
            return;
        }
        let seconds = us as f64 / 1e6;
        let (heart, saturation) = demo::signs_at(seconds);
        told.monitor
            .set_vital_signs(VitalSigns { heart_rate: Some(heart), saturation: Some(saturation) });
        let now = demo::settings_at(&shift, seconds);
        if dialled.replace(now) == Some(now) {
            return;
        }
        set_anew(told, us, &now);
    });
    told.end()
}

/// A bedside by number: whole numbers and their parts only, so that every platform makes the same.
fn bedside(n: u8) -> Scenario {
    let of = |choices: [f64; 4], n: u8| Schedule::constant(choices[usize::from(n % 4)]);
    let patterns = [Pattern::EveryBreath, Pattern::SetRate, Pattern::Timed];
    let compliance = [0.5, 1.0, 2.0, 3.0][usize::from(n / 4 % 4)];
    Scenario {
        seed: n.into(),
        period_us: [10_000, 5_000, 2_000][usize::from(n % 3)],
        lung: LungSettings::single(60.0 / compliance, compliance),
        leak: LeakSettings { size: of([0.0, 1.0, 2.0, 5.0], n / 3), ..LeakSettings::default() },
        effort: EffortSettings {
            rate: of([30.0, 45.0, 60.0, 70.0], n / 2),
            amplitude: of([0.0, 2.0, 4.0, 6.0], n / 5),
            ..EffortSettings::default()
        },
        machine: VentilatorSettings {
            pattern: Schedule::constant(patterns[usize::from(n / 2 % 3)]),
            peak: of([14.0, 16.0, 18.0, 20.0], n / 7),
            set_rate: of([0.0, 20.0, 40.0, 60.0], n / 6),
            support: of([0.0, 3.0, 5.0, 8.0], n / 8),
            threshold: of([2.0, 4.0, 6.0, 12.0], n / 9),
            ..VentilatorSettings::default()
        },
        sensor: SensorSettings {
            ripple: of([0.0, 1.0, 2.0, 3.0], n / 10),
            offset: [0.0, 0.0, 3.0, -3.0][usize::from(n / 12)],
            ..SensorSettings::default()
        },
        ..Scenario::default()
    }
}

/// A minute each of what a bedside can bring, under each of the settings.
fn bedsides() -> (u64, Landmarks) {
    let (mut all, mut landmarks) = (Digest::default(), Landmarks::default());
    for n in 0..48 {
        let mut told = Told::new(&setup(n));
        simulated(&mut told, &bedside(n), 60, |_, _| ());
        let synchrony = *told.monitor.synchrony();
        all.word(told.end().0);
        landmarks.stop(&format!("bedside {n}"), all.0, &synchrony);
    }
    (all.0, landmarks)
}

/// Streams out of random bytes (Marsaglia's xorshift, J Stat Softw 8:14, 2003).
fn wild_streams() -> (u64, Landmarks) {
    let mut state = 0x9E37_79B9_7F4A_7C15_u64;
    let (mut all, mut landmarks) = (Digest::default(), Landmarks::default());
    for n in 0..400_u16 {
        let mut data = n.to_le_bytes().to_vec();
        data.extend([0xfe, 0]);
        while data.len() < 4 + 6 * 12 {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            data.extend(state.to_le_bytes());
        }
        let stream = decode(&data).unwrap();
        let (mut told, mut tick) = (Told::new(&stream.setup), stream.first_tick);
        for input in stream.inputs {
            match input {
                Input::Reading(wait, reading) => {
                    tick = tick.wrapping_add(wait);
                    let tick = Tick::from_us(tick);
                    let sample = Sample { tick, flow: reading.flow, pressure: reading.pressure };
                    let report = told.monitor.push(sample);
                    told.hear(&report);
                }
                Input::Lost => {
                    let report = told.monitor.lost();
                    told.hear(&report);
                }
                Input::Tick(wait) => {
                    tick = tick.wrapping_add(wait);
                    let report = told.monitor.tick(Tick::from_us(tick));
                    told.hear(&report);
                }
                Input::Resumed(anew) => {
                    tick = anew;
                    told.monitor.resume(Tick::from_us(tick));
                }
                Input::Changed(number) => {
                    let at = told.monitor.trend().step().unwrap_or_default();
                    let report = told.monitor.settings_changed(at, setup(number).settings);
                    told.hear(&report);
                }
                Input::Signs(signs) => told.monitor.set_vital_signs(signs),
                Input::Finish => told.finish(),
                // Changes nothing.
                Input::Asked => {}
            }
        }
        let synchrony = *told.monitor.synchrony();
        all.word(told.end().0);
        let place = format!("stream {n}");
        if n.is_multiple_of(20) {
            landmarks.stop(&place, all.0, &synchrony);
        } else {
            landmarks.pass(&place, all.0);
        }
    }
    (all.0, landmarks)
}

fn hold(name: &str, (digest, landmarks): &(u64, Landmarks), known: u64) {
    landmarks.hold(name, *digest, known);
}

#[test]
fn the_demo_shift_keeps_every_bit() {
    hold("demo", &demo_shift(), 0x360c_1138_e5f9_9ef2);
}

#[test]
fn bedsides_keep_every_bit() {
    hold("bedsides", &bedsides(), 0x0ec9_791c_94e8_aec2);
}

#[test]
fn a_wild_stream_keeps_every_bit() {
    hold("wild", &wild_streams(), 0xb9e2_7d78_7273_8db5);
}

#[test]
fn every_path_keeps_every_bit() {
    hold("paths", &every_path(), 0xaa46_49a6_c606_0699);
}
