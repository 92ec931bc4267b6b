//! What was found of the truth, over all scenarios.

use crate::{Run, SETTLED};
use std::collections::{BTreeMap, BTreeSet};
use tidevane::breath::Kind;
use tidevane::leak::LungVolume;
use tidevane::mechanics::FitOutcome;
use tidevane::monitor::{BreathReport, EventKind};
use tidevane::quantity::Instant;
use tidevane_sim::{self as sim, TruthBreath, TruthEffort};
use tidevane_support::units::{expired, float, inspired};

/// One quantity over all scenarios.
#[derive(Default)]
pub(crate) struct Quantity {
    pub(crate) errors: Vec<f64>,
    scale: Vec<f64>,
}

impl Quantity {
    fn put(&mut self, got: f64, want: f64) {
        self.errors.push(got - want);
        self.scale.push(want);
    }

    pub(crate) fn rms(values: &[f64]) -> f64 {
        let squares: f64 = values.iter().map(|v| v * v).sum();
        (squares / values.len().max(1) as f64).sqrt()
    }

    /// Root mean square error as a share of the true values' own, in percent.
    pub(crate) fn relative(&self) -> f64 {
        100.0 * Self::rms(&self.errors) / Self::rms(&self.scale)
    }

    pub(crate) fn bias(&self) -> f64 {
        100.0 * self.errors.iter().sum::<f64>() / self.scale.iter().sum::<f64>()
    }

    /// The share of those off by more than that.
    pub(crate) fn beyond(&self, most: f64) -> f64 {
        let off = self.errors.iter().filter(|error| error.abs() > most).count();
        off as f64 / self.errors.len().max(1) as f64
    }

    pub(crate) fn median_absolute(&self) -> f64 {
        let mut each: Vec<_> = self.errors.iter().map(|e| e.abs()).collect();
        each.sort_by(f64::total_cmp);
        each.get(each.len() / 2).copied().unwrap_or(f64::NAN)
    }
}

#[derive(Default)]
pub(crate) struct Table {
    pub(crate) matched: usize,
    pub(crate) truth: usize,
    pub(crate) found: usize,
    pub(crate) onset_ms: Quantity,
    pub(crate) inspired: Quantity,
    pub(crate) expired: Quantity,
    pub(crate) share: Quantity,
    pub(crate) lung: Quantity,
    /// Of these, within two standard deviations.
    pub(crate) covered: usize,
    /// At 40 to 60 % leak; of these, within two standard deviations.
    pub(crate) leaky_lung: Quantity,
    pub(crate) leaky_covered: usize,
    /// Of inflations that were trusted, those without a lung volume.
    pub(crate) refused: (usize, usize),
    /// Of breaths that were found, those with a flag.
    pub(crate) remarked: (usize, usize),
    /// Of passive inflations, those with a compliance.
    pub(crate) fitted: (usize, usize),
    pub(crate) kind_right: usize,
    pub(crate) compliance: Quantity,
    pub(crate) resistance: Quantity,
    /// Causes: true by found.
    /// Missed efforts: found, all; and false ones against breaths without any.
    pub(crate) missed: [(usize, usize); 2],
    pub(crate) false_missed: (usize, usize),
    /// Breaths by flag: no scenario of this suite has a fault, so each is a false remark.
    pub(crate) flagged: BTreeMap<&'static str, usize>,
    pub(crate) causes: BTreeMap<(&'static str, &'static str), usize>,
}

fn cause_name(cause: sim::Cause) -> &'static str {
    match cause {
        sim::Cause::Timed => "timed",
        sim::Cause::Effort => "effort",
        sim::Cause::SelfLeak => "self-leak",
        sim::Cause::SelfRipple | sim::Cause::SelfWater => "self-ripple",
    }
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, n) = values.fold((0.0, 0.0), |(sum, n), v| (sum + v, n + 1.0));
    if n > 0.0 { sum / n } else { 0.0 }
}

/// Mean volume of inflations.
pub(crate) fn usual(truth: &[TruthBreath]) -> f64 {
    mean(truth.iter().filter(|t| is_inflation(t)).map(|t| t.lung_inspired))
}

/// Breaths on which opinions may differ: an own breath of less than 15 % of the usual inflation (a
/// breath, or an effort that moved too little?), and one that breathes out less than a twentieth
/// before an inflation comes on top, with that inflation (two breaths, or one?). They are neither
/// demanded nor held against whoever finds them; nor are those into which suction or an open circuit fell.
fn is_debatable(truth: &[TruthBreath], usual: f64) -> Vec<bool> {
    let tiny = |t: &TruthBreath| !is_inflation(t) && t.lung_inspired < 0.15 * usual;
    let on_top = |t: &TruthBreath| !is_inflation(t) && t.lung_expired < 0.05 * usual;
    (0..truth.len())
        .map(|i| {
            let before = i.checked_sub(1).is_some_and(|j| on_top(&truth[j]));
            truth[i].handled || tiny(&truth[i]) || on_top(&truth[i]) || before
        })
        .collect()
}

/// Whether suction was under way or the circuit was open at a time in µs, or a second before.
fn is_handled(scenario: &sim::Scenario, us: u64) -> bool {
    let windows = [scenario.suction.map(|s| s.when), scenario.opening.map(|s| s.when)];
    let at = us as f64 / 1e6;
    windows.into_iter().flatten().any(|when| when.contains(at) || when.contains(at - 1.0))
}

fn is_inflation(t: &TruthBreath) -> bool {
    t.kind == sim::Kind::Inflation || t.supported
}

impl Table {
    pub(crate) fn take(&mut self, run: &Run) -> String {
        let last = run.truth.last().map_or(SETTLED, |t| Instant::from_us(t.end_us));
        let usual = usual(&run.truth);
        let debatable = is_debatable(&run.truth, usual);
        let near = |b: &BreathReport, t: &TruthBreath| {
            b.breath.onset.to_us().abs_diff(t.onset_us) <= 150_000
        };
        // Where the next breath is debatable, so is how long this one breathes out.
        let ends_open: BTreeSet<_> = run
            .truth
            .windows(2)
            .zip(&debatable[1..])
            .filter(|(_, next)| **next)
            .map(|(pair, _)| pair[0].onset_us)
            .collect();
        let settled =
            run.truth.iter().zip(debatable).filter(|(t, _)| t.onset_us >= SETTLED.to_us());
        let (open, truth): (Vec<_>, Vec<_>) = settled.partition(|(_, debatable)| *debatable);
        let truth: Vec<_> = truth.into_iter().map(|(t, _)| t).collect();
        let found: Vec<_> = run
            .found
            .iter()
            .filter(|b| b.breath.onset >= SETTLED && b.breath.onset < last)
            .filter(|b| {
                let excused = is_handled(&run.drawn.scenario, b.breath.onset.to_us())
                    || open.iter().any(|(t, _)| near(b, t));
                !excused || truth.iter().any(|t| near(b, t))
            })
            .collect();
        self.take_efforts(run, last, usual);
        let before = (self.matched, self.truth, self.found);
        self.truth += truth.len();
        self.found += found.len();
        let mut local = Quantity::default();
        let mut local_lung = Quantity::default();
        for t in &truth {
            let off = |b: &&&BreathReport| b.breath.onset.to_us().abs_diff(t.onset_us);
            let Some(b) = found.iter().min_by_key(off).filter(|b| off(b) <= 150_000) else {
                continue;
            };
            self.matched += 1;
            let late = b.breath.onset.to_us() as f64 - t.onset_us as f64;
            self.onset_ms.put(late / 1e3, 0.0);
            self.kind_right += usize::from(is_inflation(t) == (b.breath.kind == Kind::Inflation));
            if let (true, Some(cause), Some(found)) = (b.breath.is_trusted(), t.cause, b.initiation)
            {
                *self.causes.entry((cause_name(cause), found.cause.name())).or_default() += 1;
            }
            for name in b.breath.flags.names() {
                *self.flagged.entry(name).or_default() += 1;
            }
            self.remarked.1 += 1;
            if !b.breath.is_trusted() {
                self.remarked.0 += 1;
                continue;
            }
            self.inspired.put(inspired(&b.breath), t.sensor_in);
            local.put(inspired(&b.breath), t.sensor_in);
            if is_inflation(t) && !ends_open.contains(&t.onset_us) {
                self.expired.put(expired(&b.breath), t.sensor_out.max(0.5));
                let share = b.leak_window.share().map(|s| float(s.to_bits()));
                self.share.put(share.unwrap_or(f64::NAN), window_share(&run.truth, t));
            }
            // One compartment and no effort of its own: only then is there one C and one R.
            let passive = run.drawn.scenario.lung.second.is_none()
                && run.drawn.scenario.effort.amplitude.at(0.0) == 0.0;
            let is_passive = passive && is_inflation(t);
            self.fitted.1 += usize::from(is_passive);
            if let (true, FitOutcome::Known { compliance, resistance, .. }) =
                (is_passive, b.mechanics)
            {
                self.fitted.0 += 1;
                // Any between the dynamic and the static one will do where the lung yields.
                let got = float(compliance.to_bits()) / t.compliance;
                let least = 1.0 / (1.0 + run.drawn.scenario.lung.yielding.0);
                self.compliance.put(got, got.clamp(least, 1.0));
                self.resistance.put(float(resistance.to_bits()) / t.resistance, 1.0);
            }
            if !is_inflation(t) {
                continue;
            }
            self.refused.1 += 1;
            match b.lung {
                LungVolume::Known { volume, sd } if t.leak_share <= 0.4 => {
                    let (volume, sd) = (float(volume.to_bits()), float(sd.to_bits()));
                    self.lung.put(volume, t.lung_inspired);
                    local_lung.put(volume, t.lung_inspired);
                    self.covered += usize::from((volume - t.lung_inspired).abs() <= 2.0 * sd);
                }
                LungVolume::Known { volume, sd } if t.leak_share <= 0.6 => {
                    let (volume, sd) = (float(volume.to_bits()), float(sd.to_bits()));
                    self.leaky_lung.put(volume, t.lung_inspired);
                    let is_covered = (volume - t.lung_inspired).abs() <= 2.0 * sd;
                    self.leaky_covered += usize::from(is_covered);
                }
                LungVolume::Known { .. } => {}
                LungVolume::Unknown(_) => self.refused.0 += 1,
            }
        }
        format!(
            "met {} of {} found {} | insp {:.1} % | lung {:.1} % bias {:.1} % | {}",
            self.matched - before.0,
            self.truth - before.1,
            self.found - before.2,
            local.relative(),
            local_lung.relative(),
            local_lung.bias(),
            run.drawn.text
        )
    }

    /// Efforts that got nothing, each to be met by an event (that a timed inflation brought one about is
    /// another name for the same, where efforts come at nearly the set rate) while it lasts or 150 ms after.
    fn take_efforts(&mut self, run: &Run, last: Instant, usual: f64) {
        let clear = |us: &u64| !is_handled(&run.drawn.scenario, *us);
        let seen: Vec<_> = run
            .events
            .iter()
            .filter(|e| matches!(e.what, EventKind::MissedEffort(_) | EventKind::ReverseTrigger(_)))
            .filter(|e| e.at >= SETTLED && e.at < last)
            .map(|e| e.at.to_us())
            .filter(clear)
            .collect();
        let (settled, last) = (SETTLED.to_us(), last.to_us());
        let wasted = |e: &&TruthEffort| {
            matches!(e.outcome, sim::Outcome::Missed | sim::Outcome::DuringInflation)
        };
        // One during which the timer came got no inflation of its own either, yet gas when it asked for
        // it: either answer is right.
        let met_by_timer = |e: &&TruthEffort| e.outcome == sim::Outcome::InTimedInflation;
        let meets = |e: &TruthEffort, at: u64| e.start_us <= at && at <= e.end_us + 150_000;
        for effort in
            run.efforts.iter().filter(|e| e.start_us >= settled && e.end_us < last).filter(wasted)
        {
            if !clear(&effort.start_us) || !clear(&effort.end_us) {
                continue;
            }
            let met = seen.iter().any(|at| meets(effort, *at));
            let kind = usize::from(effort.outcome == sim::Outcome::DuringInflation);
            self.missed[kind].1 += 1;
            self.missed[kind].0 += usize::from(met);
        }
        // An own breath of almost no gas is an effort without one: either answer is right.
        let small = |t: &TruthBreath| !is_inflation(t) && t.lung_inspired < 0.15 * usual;
        let whole = run
            .truth
            .iter()
            .filter(|t| t.onset_us >= settled && t.end_us <= last && !small(t) && !t.handled);
        for breath in whole {
            if run
                .efforts
                .iter()
                .filter(wasted)
                .any(|e| e.start_us < breath.end_us && e.end_us > breath.onset_us)
            {
                continue;
            }
            self.false_missed.1 += 1;
            let wrong = seen.iter().any(|&at| {
                at >= breath.onset_us
                    && at < breath.end_us
                    && !run
                        .efforts
                        .iter()
                        .filter(|e| wasted(e) || met_by_timer(e))
                        .any(|e| meets(e, at))
            });
            self.false_missed.0 += usize::from(wrong);
        }
    }

    /// Sensitivity and specificity of one cause.
    pub(crate) fn cause(&self, name: &str) -> (f64, f64) {
        let (mut hit, mut miss, mut wrong, mut right) = (0, 0, 0, 0);
        for (&(truth, found), &n) in &self.causes {
            match (truth == name, found == name) {
                (true, true) => hit += n,
                (true, false) => miss += n,
                (false, true) => wrong += n,
                (false, false) => right += n,
            }
        }
        let share = |a: usize, b: usize| a as f64 / (a + b) as f64;
        (share(hit, miss), share(right, wrong))
    }

    pub(crate) fn f1(&self) -> f64 {
        2.0 * self.matched as f64 / (self.truth + self.found) as f64
    }
}

/// The true leak share over the eight breaths up to one.
fn window_share(truth: &[TruthBreath], last: &TruthBreath) -> f64 {
    let at = truth.iter().position(|t| t.onset_us == last.onset_us).unwrap();
    let window = &truth[at.saturating_sub(7)..=at];
    let inspired: f64 = window.iter().map(|t| t.sensor_inspired).sum();
    let expired: f64 = window.iter().map(|t| t.sensor_expired).sum();
    (inspired - expired) / inspired
}
