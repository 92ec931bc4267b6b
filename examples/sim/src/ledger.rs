//! Finds breaths in the true lung flow and keeps their accounts.

use crate::control::Command;
use crate::lung::Flows;
use crate::time::micros;
use crate::truth::{Kind, TruthBreath};

/// Share of the usual volume that makes a breath.
const USUAL_SHARE: f64 = 0.05;

/// Running sums since the start: mL, and energy and squared flow for the resistance.
#[derive(Debug, Clone, Copy, Default)]
struct Totals {
    lung: f64,
    sensor: f64,
    leak: f64,
    loss: f64,
    square: f64,
    faults: u32,
    handled: u32,
}

/// Inward flow that may become a breath, or a breath's beginning.
#[derive(Debug, Clone, Copy)]
struct Start {
    onset: f64,
    totals: Totals,
    low: f64,
    high: f64,
}

impl Start {
    fn see(&mut self, pressure: f64) {
        self.low = self.low.min(pressure);
        self.high = self.high.max(pressure);
    }
}

#[derive(Debug, Clone, Copy)]
struct Open {
    start: Start,
    command: Option<(f64, Command)>,
    turned: Option<(f64, Totals)>,
    /// What the sensor saw since then, and what it had seen before the inward flow under way.
    seen: Seen,
    before: Seen,
}

/// At the sensor, after the lung has turned: gas may go in for a while, then comes out.
#[derive(Debug, Clone, Copy, Default)]
struct Seen {
    /// The most that had gone in before it first came out.
    top: f64,
    went_out: bool,
    /// The least that had gone in, net, since then, and when.
    least: (f64, f64),
}

impl Seen {
    fn see(&mut self, now: f64, flow: f64, total: f64) {
        self.went_out |= flow <= 0.0;
        if !self.went_out {
            self.top = total;
        }
        if !self.went_out || total < self.least.0 {
            self.least = (total, now);
        }
    }

    /// What came back by a moment at which so much had gone in, net; before a pause of more than 2 s the
    /// most that had.
    fn out(&self, now: f64, total: f64) -> f64 {
        let paused = now - self.least.1 > 2.0;
        (self.top - if paused { self.least.0 } else { total }).max(0.0)
    }
}

/// A breath just found: when it began and whether the machine is behind it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Found {
    pub(crate) onset: f64,
    pub(crate) commanded: bool,
    pub(crate) closed: Option<TruthBreath>,
}

/// The accounts.
#[derive(Debug, Clone)]
pub(crate) struct Ledger {
    smallest: f64,
    usual: f64,
    totals: Totals,
    open: Option<Open>,
    candidate: Option<Start>,
    pending: Option<(f64, Command)>,
    inflating: bool,
}

impl Ledger {
    pub(crate) fn new(smallest: f64) -> Self {
        Self {
            smallest,
            usual: 0.0,
            totals: Totals::default(),
            open: None,
            candidate: None,
            pending: None,
            inflating: false,
        }
    }

    /// An inflation begins: it belongs to the inspiration under way, else to the next one.
    pub(crate) fn command(&mut self, now: f64, command: Command) {
        self.inflating = true;
        match &mut self.open {
            Some(open) if open.turned.is_none() => {
                if open.command.is_none_or(|(_, earlier)| command.full && !earlier.full) {
                    open.command = Some((now, command));
                }
            }
            _ => self.pending = Some((now, command)),
        }
    }

    /// The inflation is over; one that moved no gas inward belongs to no breath.
    pub(crate) fn inflation_ended(&mut self) {
        self.inflating = false;
        if self.candidate.is_none() {
            self.pending = None;
        }
    }

    /// A faulty sample was given.
    pub(crate) fn fault(&mut self) {
        self.totals.faults = self.totals.faults.saturating_add(1);
    }

    /// A sample was taken with a catheter in or the circuit open.
    pub(crate) fn handled(&mut self) {
        self.totals.handled = self.totals.handled.saturating_add(1);
    }

    /// Books the flows of a step from `now` on.
    pub(crate) fn step(
        &mut self,
        now: f64,
        dt: f64,
        flows: Flows,
        airway: f64,
        compliance: f64,
    ) -> Option<Found> {
        let inward = flows.lung > 0.0;
        if let Some(open) = self.open.as_mut().filter(|open| open.turned.is_none()) {
            if !inward {
                open.turned = Some((now, self.totals));
                open.seen.top = self.totals.sensor;
                open.seen.least = (self.totals.sensor, now);
            }
        } else if !inward {
            self.drop_candidate();
        } else if self.candidate.is_none() {
            let (low, high) = (airway, airway);
            self.candidate = Some(Start { onset: now, totals: self.totals, low, high });
        }
        self.totals.lung += flows.lung * dt;
        self.totals.sensor += (flows.lung + flows.leak) * dt;
        self.totals.leak += flows.leak * dt;
        self.totals.loss += flows.loss * dt;
        self.totals.square += flows.lung * flows.lung * dt;
        if let Some(open) = self.open.as_mut().filter(|open| open.turned.is_some()) {
            open.seen.see(now + dt, flows.lung + flows.leak, self.totals.sensor);
            if self.candidate.is_none() {
                open.before = open.seen;
            }
        }
        let Some(candidate) = &mut self.candidate else {
            if let Some(open) = &mut self.open {
                open.start.see(airway);
            }
            return None;
        };
        candidate.see(airway);
        let start = *candidate;
        let enough = self.smallest.max(USUAL_SHARE * self.usual);
        if self.totals.lung - start.totals.lung < enough {
            return None;
        }
        let closed = self.open.and_then(|open| close(&open, &start, compliance));
        if let Some(breath) = &closed {
            self.usual += 0.2 * (breath.lung_inspired - self.usual);
        }
        let command = self.pending.take();
        self.candidate = None;
        self.open = Some(Open {
            start,
            command,
            turned: None,
            seen: Seen::default(),
            before: Seen::default(),
        });
        Some(Found { onset: start.onset, commanded: command.is_some() || self.inflating, closed })
    }

    /// Inward flow that came to nothing stays with the expiration it interrupted.
    fn drop_candidate(&mut self) {
        if let (Some(gone), Some(open)) = (self.candidate.take(), &mut self.open) {
            open.start.see(gone.low);
            open.start.see(gone.high);
        }
        if !self.inflating {
            self.pending = None;
        }
    }
}

fn close(open: &Open, next: &Start, compliance: f64) -> Option<TruthBreath> {
    let (turned, middle) = open.turned?;
    let (first, last) = (open.start.totals, next.totals);
    let sensor_inspired = middle.sensor - first.sensor;
    let leak = last.leak - first.leak;
    let square = middle.square - first.square;
    let command = open.command;
    let full = command.is_some_and(|(_, c)| c.full);
    Some(TruthBreath {
        onset_us: micros(open.start.onset),
        command_us: command.map(|(at, _)| micros(at)),
        end_inspiration_us: micros(turned),
        end_us: micros(next.onset),
        kind: if full { Kind::Inflation } else { Kind::Own },
        cause: command.map(|(_, c)| c.cause),
        supported: command.is_some() && !full,
        lung_inspired: middle.lung - first.lung,
        lung_expired: middle.lung - last.lung,
        sensor_inspired,
        sensor_expired: middle.sensor - last.sensor,
        sensor_in: open.before.top - first.sensor,
        sensor_out: open.before.out(next.onset, last.sensor),
        leak,
        leak_share: if sensor_inspired > 0.0 { leak / sensor_inspired } else { 0.0 },
        peak: open.start.high,
        baseline: open.start.low,
        compliance,
        resistance: if square > 0.0 { 1_000.0 * (middle.loss - first.loss) / square } else { 0.0 },
        touched_by_fault: last.faults > first.faults,
        handled: last.handled > first.handled,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::truth::Cause;

    /// Flow in mL/s for a time in s; 1 mL/s of leak throughout.
    fn run(ledger: &mut Ledger, now: &mut f64, flow: f64, seconds: f64) -> Option<Found> {
        let mut found = None;
        for _ in 0..(seconds / 0.000_5 + 0.5) as u32 {
            let flows = Flows { lung: flow, leak: 1.0, loss: 0.1 * flow * flow };
            found = ledger.step(*now, 0.000_5, flows, 5.0, 0.5).or(found);
            *now += 0.000_5;
        }
        found
    }

    #[test]
    fn a_small_puff_in_expiration_is_no_breath() {
        // Derived here: 0.3 s at +10 is 3 mL; then −8.6 × 0.2 + 3 × 0.1 − 4 × 0.32 = −2.7 mL in
        // expiration, of which 0.3 mL inward lie below the 0.4 mL of a breath.
        let (mut ledger, mut now) = (Ledger::new(0.4), 0.0);
        let first = run(&mut ledger, &mut now, 10.0, 0.3);
        assert!(first.is_some_and(|f| f.onset == 0.0 && f.closed.is_none()));
        assert!(run(&mut ledger, &mut now, -8.6, 0.2).is_none());
        assert!(run(&mut ledger, &mut now, 3.0, 0.1).is_none());
        assert!(run(&mut ledger, &mut now, -4.0, 0.32).is_none());
        ledger.command(now, Command { cause: Cause::Timed, full: true });
        let breath = run(&mut ledger, &mut now, 10.0, 0.3).and_then(|f| f.closed).unwrap();
        assert_eq!((breath.onset_us, breath.end_inspiration_us), (0, 300_000));
        assert_eq!(breath.end_us, 920_000);
        assert!((breath.lung_inspired - 3.0).abs() < 1e-9);
        assert!((breath.lung_expired - 2.7).abs() < 1e-9, "{breath:?}");
        // leak 1 mL/s × 0.92 s; sensor 3 + 0.3 in, 2.7 − 0.62 out
        assert!((breath.leak - 0.92).abs() < 1e-9);
        assert!((breath.sensor_inspired - 3.3).abs() < 1e-9);
        assert!((breath.sensor_expired - 2.08).abs() < 1e-9);
        // −7.6 × 0.2 + 4 × 0.1 − 3 × 0.32
        assert!((breath.sensor_out - 2.08).abs() < 1e-9);
        // 0.1 cmH2O/(mL/s) = 100 cmH2O/(L/s)
        assert!((breath.resistance - 100.0).abs() < 1e-6);
        assert_eq!((breath.kind, breath.cause), (Kind::Own, None));
        run(&mut ledger, &mut now, -10.0, 0.3);
        let second = run(&mut ledger, &mut now, 10.0, 0.3).and_then(|f| f.closed);
        assert_eq!(second.map(|b| (b.kind, b.cause)), Some((Kind::Inflation, Some(Cause::Timed))));
    }

    #[test]
    fn what_leaks_in_through_a_pause_takes_nothing_from_what_came_out() {
        // 3 mL in and out, 1 mL/s of leak: 2.7 mL out through the sensor, then leak alone for 1 s, and for
        // 2.5 s, which is a pause.
        for (rest, out, expired) in [(1.0, 1.7, 1.7), (2.5, 2.7, 0.2)] {
            let (mut ledger, mut now) = (Ledger::new(0.4), 0.0);
            run(&mut ledger, &mut now, 10.0, 0.3);
            run(&mut ledger, &mut now, -10.0, 0.3);
            run(&mut ledger, &mut now, 0.0, rest);
            let breath = run(&mut ledger, &mut now, 10.0, 0.3).and_then(|f| f.closed).unwrap();
            assert!((breath.sensor_out - out).abs() < 1e-9, "{}, not {out}", breath.sensor_out);
            assert!((breath.sensor_expired - expired).abs() < 1e-9);
        }
    }

    #[test]
    fn gas_that_still_goes_in_after_the_lung_has_turned_was_inspired() {
        // 3.3 mL up to the turn; 0.2 s of 1 − 0.4 mL/s into the sensor; out at 9.6 − 1 for 0.3 s.
        let (mut ledger, mut now) = (Ledger::new(0.4), 0.0);
        run(&mut ledger, &mut now, 10.0, 0.3);
        run(&mut ledger, &mut now, -0.4, 0.2);
        run(&mut ledger, &mut now, -9.6, 0.3);
        let breath = run(&mut ledger, &mut now, 10.0, 0.3).and_then(|f| f.closed).unwrap();
        assert!((breath.sensor_inspired - 3.3).abs() < 1e-9);
        assert!((breath.sensor_in - 3.42).abs() < 1e-9, "{}", breath.sensor_in);
        assert!((breath.sensor_out - 2.58).abs() < 1e-9, "{}", breath.sensor_out);
    }

    #[test]
    fn an_inflation_that_moved_nothing_belongs_to_no_breath() {
        // Derived here: a command during outward flow, with no inward flow or with 0.1 mL of it,
        // is forgotten when its inflation is over.
        for puff in [0.0, 0.01] {
            let (mut ledger, mut now) = (Ledger::new(0.4), 0.0);
            run(&mut ledger, &mut now, 10.0, 0.3);
            run(&mut ledger, &mut now, -5.0, 0.2);
            ledger.command(now, Command { cause: Cause::Timed, full: true });
            run(&mut ledger, &mut now, -5.0, 0.1);
            run(&mut ledger, &mut now, 10.0, puff);
            ledger.inflation_ended();
            run(&mut ledger, &mut now, -5.0, 0.2);
            run(&mut ledger, &mut now, 10.0, 0.3);
            run(&mut ledger, &mut now, -10.0, 0.3);
            let breath = run(&mut ledger, &mut now, 10.0, 0.3).and_then(|f| f.closed).unwrap();
            assert_eq!((breath.kind, breath.command_us), (Kind::Own, None), "{puff}");
        }
    }

    #[test]
    fn a_full_inflation_outranks_the_support_before_it() {
        let (mut ledger, mut now) = (Ledger::new(0.4), 0.0);
        run(&mut ledger, &mut now, 10.0, 0.1);
        ledger.command(now, Command { cause: Cause::Effort, full: false });
        run(&mut ledger, &mut now, 10.0, 0.1);
        ledger.command(now, Command { cause: Cause::Timed, full: true });
        run(&mut ledger, &mut now, 10.0, 0.1);
        run(&mut ledger, &mut now, -10.0, 0.3);
        let breath = run(&mut ledger, &mut now, 10.0, 0.3).and_then(|f| f.closed).unwrap();
        assert_eq!((breath.kind, breath.cause), (Kind::Inflation, Some(Cause::Timed)));
        assert_eq!(breath.command_us, Some(200_000));
    }

    #[test]
    fn large_lungs_need_more_for_a_breath() {
        // Derived here: with 500 mL breaths the usual volume passes 100 mL after the first (a
        // fifth of 500), so that 4 mL, below 5 % of it, are none; at first they would have been.
        let (mut ledger, mut now) = (Ledger::new(0.4), 0.0);
        for _ in 0..3 {
            run(&mut ledger, &mut now, 500.0, 1.0);
            run(&mut ledger, &mut now, -500.0, 1.0);
        }
        assert!(run(&mut ledger, &mut now, 40.0, 0.1).is_none());
        run(&mut ledger, &mut now, -40.0, 0.1);
        assert!(run(&mut ledger, &mut now, 500.0, 1.0).is_some());
    }
}
