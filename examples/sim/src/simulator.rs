//! Runs all of it.

use crate::bubbles::Bubbles;
use crate::cause::Seen;
use crate::control::{Command, Control};
use crate::effort::Effort;
use crate::error::ScenarioError;
use crate::ledger::Ledger;
use crate::lung::{Drive, LeakNow, Lung};
use crate::noise::Noise;
use crate::opening::{OpenAt, into_the_room, opening};
use crate::outcome::Outcomes;
use crate::position::Position;
use crate::scenario::Scenario;
use crate::sensor::{Sensor, SimSample};
use crate::suction::SuctionSettings;
use crate::supply::Supply;
use crate::time::INNER_US;
use crate::truth::{TruthBreath, TruthEffort};
use heapless::Deque;

/// Breaths or efforts that may wait for their turn to be given.
const WAITING: usize = 4;

/// One sample, and what ended with it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Output {
    /// When the sample was taken, µs from the start.
    pub at_us: u64,
    /// The sample; `None` where the sensor was silent.
    pub sample: Option<SimSample>,
    /// A breath that was found to be over: the next one has begun.
    pub breath: Option<TruthBreath>,
    /// An effort that is over.
    pub effort: Option<TruthEffort>,
}

/// The true state at the last sample: flows in mL/s, pressures in cmH2O.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Inside {
    /// Flow into the lung, mL/s.
    pub lung_flow: f64,
    /// Flow through the sensor that does not go into the lung, mL/s: the leak, what a catheter draws, and what a
    /// circuit open toward the infant loses, less lung flow.
    pub leak_flow: f64,
    /// Airway pressure, cmH2O.
    pub airway: f64,
    /// Muscle pressure, cmH2O.
    pub muscle: f64,
    /// Whether an inflation or support is running.
    pub inflating: bool,
}

/// A running simulation.
#[derive(Debug, Clone)]
pub struct Simulator {
    scenario: Scenario,
    samples: u64,
    lung: Lung,
    leak: LeakNow,
    position: Position,
    open: Option<OpenAt>,
    /// An inflation that is on its way to nobody while the circuit is open.
    withheld: Option<Command>,
    effort: Effort,
    control: Control,
    supply: Supply,
    bubbles: Bubbles,
    sensor: Sensor,
    ledger: Ledger,
    outcomes: Outcomes,
    inside: Inside,
    breaths: Deque<TruthBreath, WAITING>,
    efforts: Deque<TruthEffort, WAITING>,
}

impl Simulator {
    /// Starts with the lung at rest at baseline pressure.
    ///
    /// # Errors
    /// As [`Scenario::validate`].
    pub fn new(scenario: &Scenario) -> Result<Self, ScenarioError> {
        scenario.validate()?;
        let airway = scenario.machine.baseline.at(0.0);
        let size = scenario.leak.size.at(0.0);
        let leak = LeakNow { model: scenario.leak.model, site: scenario.leak.site, size };
        let leak_flow = leak.model.flow(size, airway);
        let noise = |stream| Noise::new(scenario.seed, stream);
        Ok(Self {
            scenario: *scenario,
            samples: 0,
            lung: Lung::new(&scenario.lung, scenario.tube, leak.model, airway),
            leak,
            position: Position::new(scenario.leak.position, noise(3)),
            open: None,
            withheld: None,
            effort: Effort::new(&scenario.effort, noise(0), noise(4)),
            control: Control::new(&scenario.machine),
            supply: Supply::new(scenario.machine.supply, airway),
            bubbles: Bubbles::new(scenario.machine.bubbles, noise(2)),
            sensor: Sensor::new(&scenario.sensor, noise(1), leak_flow, airway),
            ledger: Ledger::new(scenario.smallest_breath),
            outcomes: Outcomes::new(scenario.machine.trigger_delay),
            inside: Inside { leak_flow, airway, ..Inside::default() },
            breaths: Deque::new(),
            efforts: Deque::new(),
        })
    }

    /// Moves on to the next sample; the first is at time zero.
    pub fn step(&mut self) -> Output {
        if self.samples > 0 {
            self.advance();
        }
        let us = self.samples.wrapping_mul(u64::from(self.scenario.period_us));
        let seconds = us as f64 / 1e6;
        self.samples = self.samples.wrapping_add(1);
        self.refresh(seconds);
        let reading = self.sensor.read(seconds);
        if reading.faulty {
            self.ledger.fault();
        }
        if self.lung.has_catheter() || self.open.is_some() {
            self.ledger.handled();
        }
        Output {
            at_us: us,
            sample: reading.sample,
            breath: self.breaths.pop_front(),
            effort: self.efforts.pop_front(),
        }
    }

    /// The true state at the last sample.
    #[must_use]
    pub const fn inside(&self) -> Inside {
        self.inside
    }

    /// Takes the values that all schedules have at a sample.
    fn refresh(&mut self, seconds: f64) {
        self.lung.refresh(&self.scenario.lung, seconds);
        self.lung.suction(SuctionSettings::at(self.scenario.suction, seconds));
        let was_open = self.open.is_some();
        self.open = opening(self.scenario.opening, seconds);
        if self.open.is_some() && !was_open {
            self.ledger.inflation_ended();
        }
        self.leak.size = self.scenario.leak.size.at(seconds) * self.position.factor(seconds);
        self.effort.refresh(seconds);
        self.control.refresh(seconds);
        self.sensor.refresh(seconds);
    }

    /// From the last sample to the next in equal inner steps.
    fn advance(&mut self) {
        let period = u64::from(self.scenario.period_us);
        let from = self.samples.wrapping_sub(1).wrapping_mul(period) as f64 / 1e6;
        let steps = self.scenario.period_us.div_ceil(INNER_US);
        let dt = f64::from(self.scenario.period_us) / 1e6 / f64::from(steps);
        for i in 0..steps {
            self.inner(from + f64::from(i) * dt, dt);
        }
    }

    fn inner(&mut self, now: f64, dt: f64) {
        if let Some(pulse) = self.effort.begin(now) {
            let over = self.outcomes.begin(pulse, self.control.inflating());
            self.give_effort(over);
        }
        let muscle = self.effort.pressure(now + 0.5 * dt);
        let (ripple, water) = self.sensor.disturb(now, dt);
        // The heart moves the gas of the lung: not what a sensor away from it sees.
        let ripple = if self.open == Some(OpenAt::Infant) { 0.0 } else { ripple };
        let seen = Seen {
            lung: self.inside.lung_flow,
            leak: self.inside.leak_flow,
            ripple,
            water,
            muscle,
            airway: self.inside.airway,
        };
        let change = self.control.step(now, dt, &seen);
        if change.ended {
            self.withheld = None;
            self.ledger.inflation_ended();
        }
        self.withheld = change.command.or(self.withheld);
        if let (None, Some(command)) = (self.open, self.withheld) {
            self.withheld = None;
            self.ledger.command(now, command);
            self.outcomes.command(now, command);
        }
        let given = if self.open.is_some() {
            self.supply.empty();
            self.control.pressure()
        } else {
            self.supply.step(dt, self.control.pressure(), seen.flow())
        } + self.bubbles.step(now, dt);
        let airway = if self.open.is_some() { 0.0 } else { given };
        let mut flows = self.lung.step(dt, Drive { airway, muscle }, self.leak);
        if self.open == Some(OpenAt::Infant) {
            // All that passes the sensor is lost, and lung and leak pass it by.
            flows.leak = into_the_room(given) - flows.lung;
        }
        if let Some(found) = self.ledger.step(now, dt, flows, airway, self.lung.compliance()) {
            self.outcomes.breath(&found);
            if let Some(breath) = found.closed {
                // No room means four breaths within one sample, which the smallest volume forbids.
                let _ = self.breaths.push_back(breath);
            }
        }
        let over = self.outcomes.step(now);
        self.give_effort(over);
        self.sensor.follow(dt, flows.lung + flows.leak + ripple + water, airway);
        self.inside = Inside {
            lung_flow: flows.lung,
            leak_flow: flows.leak,
            airway,
            muscle,
            inflating: self.control.inflating(),
        };
    }

    fn give_effort(&mut self, effort: Option<TruthEffort>) {
        if let Some(effort) = effort {
            // As for breaths: efforts last longer than a sample.
            let _ = self.efforts.push_back(effort);
        }
    }
}
