//! What faults leave: an open circuit told and breaths found again, drift told and when breaths began meanwhile, water
//! told from efforts, volumes that are wrong and carry no flag. Each infant of a seed meets each fault alone.

use crate::table::usual;
use crate::{Run, SETTLED, run};
use tidevane::breath::Kind;
use tidevane::monitor::{BreathReport, EventKind};
use tidevane::quantity::Duration;
use tidevane::trigger::Cause;
use tidevane_sim::{self as sim, OpenAt, OpeningSettings, SuctionSettings, TruthBreath, Windows};
use tidevane_support::scenario::Drawn;
use tidevane_support::units::inspired;

/// When it begins and ends, s.
const FROM: f64 = 35.0;
const UNTIL: f64 = 47.0;
/// A drift of the zero, mL/s, from there to the end.
const DRIFT: f64 = 4.0;
/// A breath is found where its onset is dated so near, µs.
const NEAR: u64 = 150_000;
/// Spans about a fault in which nobody need find a breath, s.
const DARK: (f64, f64) = (FROM - 0.3, UNTIL + 1.5);
/// What is told so soon is told in time, s.
const OPEN_TOLD: f64 = 3.0;
const DRIFT_TOLD: f64 = 10.0;
/// A quiet end that shows where the zero stands.
const LONG: Duration = Duration::from_millis(150);
/// The longest that breaths may be missed afterwards, s.
const DEAF: f64 = 5.0;

#[derive(Debug, Clone, Copy, PartialEq)]
enum Fault {
    Open(OpenAt),
    Suction,
    Drift(f64),
    Water,
}

const FAULTS: [Fault; 6] = [
    Fault::Open(OpenAt::Machine),
    Fault::Open(OpenAt::Infant),
    Fault::Suction,
    Fault::Drift(DRIFT),
    Fault::Drift(-DRIFT),
    Fault::Water,
];

/// How many of how many.
#[derive(Debug, Default, Clone, Copy)]
struct Part(usize, usize);

impl Part {
    fn put(&mut self, is_so: bool) {
        self.0 += usize::from(is_so);
        self.1 += 1;
    }

    fn share(self) -> f64 {
        self.0 as f64 / self.1.max(1) as f64
    }
}

/// What was found beside the faults of one world.
#[derive(Debug, Default)]
pub(crate) struct Faulted {
    matched: usize,
    either: usize,
    open_told: Part,
    heard_again: Part,
    /// Without ripple, and with it.
    drift_told: [Part; 2],
    onsets_early: Part,
    water: Part,
    efforts_kept: Part,
    /// Wrong and not flagged, by fault.
    wrong: [Part; FAULTS.len()],
}

fn seconds(us: u64) -> f64 {
    us as f64 / 1e6
}

fn with(mut drawn: Drawn, fault: Fault) -> Drawn {
    let when = Windows::none().and(FROM, UNTIL);
    let scenario = &mut drawn.scenario;
    (scenario.opening, scenario.suction) = (None, None);
    match fault {
        Fault::Open(at) => scenario.opening = Some(OpeningSettings { when, at }),
        Fault::Suction => {
            scenario.suction =
                Some(SuctionSettings { when, vacuum: 120.0, flow: 100.0, narrowing: 3.0 });
        }
        Fault::Water => scenario.sensor.water = when,
        Fault::Drift(_) => {}
    }
    drawn
}

impl Faulted {
    /// Every infant of odd seeds with every fault.
    pub(crate) fn counted(scenarios: fn(u64) -> Drawn, seeds: u64) -> Self {
        let mut all = Self::default();
        for seed in (1..seeds).step_by(2) {
            for (fault, wrong) in FAULTS.iter().zip(0..) {
                let drift = if let Fault::Drift(drift) = fault { *drift } else { 0.0 };
                let zero = |us| if seconds(us) >= FROM { drift } else { 0.0 };
                all.take(&run(with(scenarios(seed), *fault), zero), *fault, wrong);
            }
        }
        all
    }

    fn take(&mut self, run: &Run, fault: Fault, wrong: usize) {
        let last = run.truth.last().map_or(0, |t| t.end_us);
        let is_dark = |from: u64, to: u64| {
            matches!(fault, Fault::Open(_) | Fault::Suction)
                && seconds(from) < DARK.1
                && seconds(to) > DARK.0
        };
        let settled = SETTLED.to_us();
        let usual = usual(&run.truth);
        // An own breath of hardly any gas may be found or not.
        let small = |t: &TruthBreath| t.kind == sim::Kind::Own && t.lung_inspired < 0.15 * usual;
        let truth = |t: &&TruthBreath| {
            t.onset_us >= settled && t.end_us <= last && !is_dark(t.onset_us, t.end_us)
        };
        let found: Vec<_> = run.found.iter().filter(|b| b.breath.onset >= SETTLED).collect();
        let met = |t: &TruthBreath| {
            let off = |b: &&&BreathReport| b.breath.onset.to_us().abs_diff(t.onset_us);
            found.iter().min_by_key(off).filter(|b| off(b) <= NEAR).copied()
        };
        let wanted: Vec<_> = run.truth.iter().filter(truth).collect();
        let asked: Vec<_> = wanted.iter().copied().filter(|t| !small(t)).collect();
        let matched = asked.iter().filter(|t| met(t).is_some()).count();
        let near_any = |b: &BreathReport| {
            wanted.iter().any(|t| small(t) && t.onset_us.abs_diff(b.breath.onset.to_us()) <= NEAR)
        };
        let counted = found.iter().filter(|b| {
            let (onset, end) = (b.breath.onset.to_us(), b.breath.end.to_us());
            end <= last && !is_dark(onset, end) && !near_any(b)
        });
        self.matched += matched;
        self.either += asked.len() + counted.count();
        for t in &asked {
            let Some(b) = met(t) else { continue };
            let is_wrong = b.breath.is_trusted()
                && (inspired(&b.breath) - t.sensor_in).abs() > 0.15 * t.sensor_in.max(0.5);
            self.wrong[wrong].put(is_wrong);
            if fault == Fault::Water && t.touched_by_fault {
                self.take_cause(t, b);
            }
        }
        let told = |is_it: fn(&EventKind) -> bool, within: f64| {
            let of = |us: u64| (FROM..=FROM + within).contains(&seconds(us));
            run.events.iter().any(|e| is_it(&e.what) && of(e.at.to_us()))
        };
        match fault {
            Fault::Open(_) | Fault::Suction => {
                if fault != Fault::Suction {
                    self.open_told.put(told(|what| *what == EventKind::OpenCircuit, OPEN_TOLD));
                }
                self.take_deafness(&asked, |t| met(t).is_some());
            }
            Fault::Drift(_) => {
                // Where a quiet end of 150 ms shows it in most breaths, and the pressure swings.
                let before = found.iter().filter(|b| seconds(b.breath.end.to_us()) < FROM);
                let mut quiet = Part::default();
                before.for_each(|b| {
                    let is_long = b.breath.quiet.is_some_and(|q| q.span >= LONG);
                    quiet.put(is_long && b.breath.kind == Kind::Inflation);
                });
                if quiet.share() > 0.5 {
                    let is_drift = |what: &EventKind| matches!(what, EventKind::ZeroDrift(_));
                    let ripple = usize::from(run.drawn.scenario.sensor.ripple.at(0.0) > 0.0);
                    self.drift_told[ripple].put(told(is_drift, DRIFT_TOLD));
                    self.take_onsets(&asked, &found);
                }
            }
            Fault::Water => {}
        }
    }

    /// From the first breath after the fault to the first that is found.
    fn take_deafness(&mut self, asked: &[&TruthBreath], is_met: impl Fn(&TruthBreath) -> bool) {
        let mut after = asked.iter().filter(|t| seconds(t.onset_us) >= UNTIL);
        let Some(first) = after.clone().next() else { return };
        let heard = after.find(|t| is_met(t)).map_or(f64::INFINITY, |t| seconds(t.onset_us));
        self.heard_again.put(heard - seconds(first.onset_us) <= DEAF);
    }

    /// Onsets more than 100 ms early in the ten seconds after the zero went.
    fn take_onsets(&mut self, asked: &[&TruthBreath], found: &[&BreathReport]) {
        let lately = |t: &&&TruthBreath| (FROM..FROM + DRIFT_TOLD).contains(&seconds(t.onset_us));
        for t in asked.iter().filter(lately) {
            let onset = |b: &&&BreathReport| b.breath.onset.to_us().abs_diff(t.onset_us);
            if let Some(b) = found.iter().min_by_key(onset).filter(|b| onset(b) <= 400_000) {
                self.onsets_early.put(b.breath.onset.to_us() + 100_000 < t.onset_us);
            }
        }
    }

    fn take_cause(&mut self, t: &TruthBreath, b: &BreathReport) {
        let Some(told) = b.initiation.filter(|_| b.breath.is_trusted()) else { return };
        match t.cause {
            Some(sim::Cause::SelfWater) => self.water.put(told.cause.is_self_cycled()),
            Some(sim::Cause::Effort) => self.efforts_kept.put(told.cause == Cause::Effort),
            _ => {}
        }
    }

    /// Each row: its name, what was reached, the bar.
    pub(crate) fn rows(&self) -> Vec<(&'static str, String, &'static str)> {
        let two = |share: f64| format!("{share:.2}");
        let percent = |part: Part| format!("{:.1} %", 100.0 * part.share());
        let [machine, infant, suction, up, down, water] = self.wrong;
        let both = |a: Part, b: Part| Part(a.0 + b.0, a.1 + b.1);
        vec![
            (
                "breaths found beside a fault, F1",
                format!("{:.3}", 2.0 * self.matched as f64 / self.either as f64),
                "0.95",
            ),
            ("open circuit told within 3 s", two(self.open_told.share()), "-"),
            (
                "breaths found again within 5 s of an open circuit or suction",
                two(self.heard_again.share()),
                "1.00",
            ),
            (
                "zero off by 4 mL/s told within 10 s, without ripple / with 1 to 3 mL/s",
                format!("{:.2} / {:.2}", self.drift_told[0].share(), self.drift_told[1].share()),
                "0.90",
            ),
            ("onsets more than 100 ms early meanwhile", percent(self.onsets_early), "5 %"),
            (
                "set off by water, found / efforts kept",
                format!("{:.2} / {:.2}", self.water.share(), self.efforts_kept.share()),
                "0.95",
            ),
            (
                "volumes 15 % wrong without a flag: open circuit, suction",
                format!("{} / {}", percent(both(machine, infant)), percent(suction)),
                "2 %",
            ),
            (
                "the same: zero off, water",
                format!("{} / {}", percent(both(up, down)), percent(water)),
                "2 %",
            ),
        ]
    }
}
