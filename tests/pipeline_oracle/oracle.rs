//! The whole pipeline counted again in `f64`, breath by breath, from what the documents say.
//!
//! Where a breath begins, turns and ends are decisions with hysteresis, and so are its flags: those
//! are the crate's own. Every number between them is counted here, and none is read back.

use crate::fields::Fields;
use crate::leak::Leak;
use crate::level::Level;
use crate::quiet::Blocks;
use crate::set::Set;
use crate::shape::stretch;
use crate::track::{Point, Track};
use std::collections::VecDeque;
use tidevane::breath::Kind;
use tidevane::monitor::BreathReport;
use tidevane::quantity::Instant;
use tidevane::signal::{Flags, GateOutcome, Reading};

pub(crate) fn float(bits: i32) -> f64 {
    f64::from(bits) / 65_536.0
}

/// What closed breaths have taught.
#[derive(Debug, Default)]
pub(crate) struct Oracle {
    pub(crate) track: Track,
    pub(crate) blocks: Blocks,
    pub(crate) leak: Leak,
    /// Inspired volume and what came back of the last eight trusted breaths.
    pub(crate) window: VecDeque<(f64, f64)>,
    /// Expired volume and length of the last eight trusted breaths.
    pub(crate) minute: VecDeque<(f64, f64)>,
    pub(crate) floor: Option<crate::floor::NoiseFloor>,
    pub(crate) zero: crate::zero::Zero,
    pub(crate) tau: Option<f64>,
    pub(crate) last_inflation: Option<u64>,
    /// Where the pressure of the last inflation began to rise: without support all are assured.
    pub(crate) last_rise: Option<u64>,
    pub(crate) short: f64,
    /// The reading that closed the breath before: the fit goes on from here.
    pub(crate) fit_from: usize,
    /// The lag of the breath before, and from which reading on pressures were kept for one.
    pub(crate) lag: u64,
    pub(crate) delayed_from: usize,
    /// What was known of the leak before the last breath closed.
    pub(crate) before: Leak,
    /// What the leak stands still at, as the monitor last gave it.
    pub(crate) level: Level,
    /// As the breath before the last closed, and the last, a level may have been found and dropped.
    pub(crate) unsure: (bool, bool),
    /// Where the flow last turned outward.
    pub(crate) turned: usize,
    /// What was known of the leak at the readings before the last breath had taught.
    unlearned: VecDeque<Leak>,
    gate: tidevane::signal::GateState,
}

impl Oracle {
    /// Takes what the monitor takes.
    pub(crate) fn push(&mut self, set: &Set, at: Instant, reading: Reading) {
        let (flow, pressure) = (float(reading.flow.to_bits()), float(reading.pressure.to_bits()));
        let tip = set.tip(pressure, flow);
        let leak = self.unlearned.pop_front();
        let lung = flow - leak.as_ref().unwrap_or(&self.leak).at(tip);
        let point = Point { us: at.to_us(), flow, pressure, tip, lung, gap: false };
        match set.gate.step(&mut self.gate, at, reading) {
            GateOutcome::Start => self.track.push(point),
            GateOutcome::Step(step) => {
                let gap = step.flags.has(Flags::GAP);
                let last = *self.track.points.last().expect("a reading before");
                self.track.push(Point { gap, ..point });
                let sums = (step.flags == Flags::NONE)
                    .then(|| stretch(self.track.between(last.us, point.us)));
                self.leak.settle((last.flow, flow), point.us - last.us, sums);
                if !gap {
                    self.blocks.push(&point);
                }
            }
            GateOutcome::Cut { .. } | GateOutcome::Refused(_) => {}
        }
    }

    /// What the monitor decided of the leak's level by the same sample.
    pub(crate) fn decide(&mut self, level: Level) {
        let was = std::mem::replace(&mut self.level, level);
        if level.still.is_some() && level.still != was.still {
            self.leak.level(self.blocks.last_four(), Some(level.lifted));
        }
    }

    /// After a cut counting starts afresh with this reading; what was learned is kept.
    pub(crate) fn restart(&mut self, at: Instant, reading: Reading, set: &Set) {
        self.track = Track::default();
        self.blocks = Blocks::default();
        (self.fit_from, self.turned, self.delayed_from) = (0, 0, 0);
        self.gate = tidevane::signal::GateState::default();
        self.push(set, at, reading);
    }

    /// All numbers of a closed breath, by the same paths as the crate's; what the monitor held of the
    /// leak's level once it had learned, where a reading came.
    pub(crate) fn close(
        &mut self,
        set: &Set,
        closed: &BreathReport,
        learned: Option<Level>,
    ) -> Fields {
        let level = learned.unwrap_or(self.level);
        // One that is found and dropped again as a breath closes was counted with for that sample.
        let unseen = level.still.is_none() && self.blocks.may_stand_still();
        self.unsure = (self.unsure.1, unseen);
        self.level = level;
        let mut out = Fields::new();
        self.before = self.leak.clone();
        let b = &closed.breath;
        let trusted = b.is_trusted();
        // The leak path and the zero looked at the breath before they remarked on it.
        let own_remarks = [Flags::ZERO_DRIFT, Flags::UNSETTLED];
        let clean = b
            .flags
            .names()
            .all(|name| own_remarks.iter().any(|remark| remark.names().any(|own| own == name)));
        let shape = crate::shape::of(self, b, &mut out);
        if clean {
            let decided = (self.level.still.is_some(), self.level.lifted);
            self.leak.learn(shape.whole, shape.insp[0], (shape.quiet, shape.inspired), decided);
        }
        if b.flags.has(Flags::UNSETTLED) {
            self.zero.restart();
            self.floor = None;
            self.window.clear();
        }
        if clean {
            self.zero.learn(&shape);
        }
        if trusted {
            keep(&mut self.window, (shape.inspired, shape.expired));
            keep(&mut self.minute, (shape.expired, shape.length));
            crate::floor::learn(self, &shape);
        }
        self.shares(&shape, trusted, &mut out);
        self.rates(&mut out);
        crate::floor::check(self, set, &mut out);
        if b.kind == Kind::Inflation {
            crate::floor::evidence(self, set, closed, &shape, &mut out);
        }
        let lung = Flags::ZERO_DRIFT
            .has(b.flags)
            .then(|| crate::lung::volume(self, set, &shape, &mut out))
            .flatten();
        crate::lung::mechanics(self, closed, &mut out);
        if trusted && let Some(tau) = self.tau {
            let left = (-shape.expiratory_time / tau).exp();
            if shape.expiratory_time < 3.0 * tau {
                out.insert("emptying.Short.left".into(), left);
            }
        }
        if b.kind == Kind::Inflation {
            crate::lung::proposal(self, closed, &shape, lung, &mut out);
        }
        // With the first its level may be dropped, with the second its curve moves.
        let mut then = self.before.clone();
        then.drop_level_with(&self.leak);
        self.unlearned = VecDeque::from([self.before.clone(), then]);
        self.fit_from = self.track.points.len() - 1;
        self.turned = self.track.at(b.end_insp.to_us());
        out
    }

    fn shares(&self, shape: &crate::shape::Shape, trusted: bool, out: &mut Fields) {
        let mut put = |name: &str, inspired: f64, expired: f64| {
            let share = (inspired - expired) / inspired;
            if inspired > 0.0 {
                let kind = if share < 0.0 { "Negative" } else { "Share" };
                out.insert(format!("{name}.{kind}"), share);
            }
        };
        if trusted {
            put("leak", shape.inspired, shape.expired);
        }
        let sum = |of: fn(&(f64, f64)) -> f64| self.window.iter().map(of).sum::<f64>();
        put("leak_window", sum(|b| b.0), sum(|b| b.1));
    }

    fn rates(&self, out: &mut Fields) {
        if self.minute.len() == 8 {
            let volume: f64 = self.minute.iter().map(|b| b.0).sum();
            let time: f64 = self.minute.iter().map(|b| b.1).sum();
            let rate = 60.0 / (time / 8.0);
            out.insert("rate".into(), rate);
            out.insert("minute_volume".into(), volume / 8.0 * rate);
        }
    }

    /// The lowest pressure from where the flow last turned outward up to a reading.
    pub(crate) fn lowest_before(&self, last: usize) -> f64 {
        let points = &self.track.points[self.turned.min(last)..=last];
        points.iter().filter(|p| !p.gap).map(|p| p.pressure).fold(f64::INFINITY, f64::min)
    }

    /// The leak share over the window.
    pub(crate) fn window_share(&self) -> Option<f64> {
        let inspired: f64 = self.window.iter().map(|b| b.0).sum();
        let expired: f64 = self.window.iter().map(|b| b.1).sum();
        (inspired > 0.0).then(|| (inspired - expired) / inspired)
    }
}

fn keep(row: &mut VecDeque<(f64, f64)>, breath: (f64, f64)) {
    row.push_back(breath);
    if row.len() > 8 {
        row.pop_front();
    }
}
