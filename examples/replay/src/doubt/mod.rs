//! What of a recording as a whole cannot be: a unit taken for another, a sensor that says nothing, a sign turned.

mod follows;
mod spacing;
mod units;
mod values;

use crate::input::columns::Columns;
use crate::input::unit::Role;
use crate::text::{decimals, percent};
use follows::Follows;
use spacing::Spacing;
use std::collections::BTreeMap;
use tidevane::breath::Implausible;
use tidevane::monitor::BreathReport;
use tidevane::quantity::Instant;
use tidevane::signal::Reading;
use values::Values;

/// Fewer breaths say nothing of a recording: chosen here, no source.
const FEW: u64 = 20;
/// A pressure that swings by less, in cmH2O, inflates no lung: chosen here, no source.
const SWING: f64 = 3.0;
/// Pressures above which a median cannot lie, in cmH2O: chosen here, no source.
const HIGH: f64 = 40.0;
/// So much of all pressure lies under zero of no airway: in adults on no positive pressure half does. Chosen here, no
/// source.
const UNDER_ZERO: f64 = 0.8;
/// A pressure that follows flow less than this (as a correlation) does not: bubbles in water leave 0.19 in simulations.
/// Chosen here, no source.
const UNRELATED: f64 = 0.05;
/// From this correlation on pressure drives flow: chosen here, no source.
const DRIVES: f64 = 0.5;

/// A doubt: in a few words, and in a sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Doubt {
    pub(crate) short: String,
    pub(crate) full: String,
}

impl Doubt {
    fn new(short: impl Into<String>, full: impl Into<String>) -> Self {
        Self { short: short.into(), full: full.into() }
    }
}

/// What was seen of a recording so far.
#[derive(Debug)]
pub(crate) struct Seen {
    flow: Values,
    pressure: Values,
    follows: Follows,
    spacing: Spacing,
    breaths: u64,
    implausible: BTreeMap<Implausible, u64>,
}

impl Default for Seen {
    fn default() -> Self {
        Self {
            flow: Values::new(5_000.0, 0.5),
            pressure: Values::new(200.0, 1.0 / 32.0),
            follows: Follows::default(),
            spacing: Spacing::default(),
            breaths: 0,
            implausible: BTreeMap::new(),
        }
    }
}

impl Seen {
    /// A reading of a moment, so many seconds along the recording.
    pub(crate) fn reading(&mut self, at: Instant, seconds: f64, reading: Reading) {
        let (flow, pressure) = (f64::from(reading.flow.get()), f64::from(reading.pressure.get()));
        let is_flow = self.flow.take(flow);
        let is_pressure = self.pressure.take(pressure);
        let step_s = self.spacing.take(at, seconds);
        if is_flow && is_pressure {
            self.follows.take(step_s, flow, pressure);
        }
    }

    pub(crate) fn breath(&mut self, report: &BreathReport) {
        self.breaths += 1;
        if let Some(why) = report.implausible {
            *self.implausible.entry(why).or_default() += 1;
        }
    }

    /// Of single breaths, as the monitor said it.
    pub(crate) fn of_breaths(&self) -> Vec<Doubt> {
        let of = |(why, n): (&Implausible, &u64)| {
            let what = format!("{n} of {} breaths cannot be: {why}", self.breaths);
            Doubt::new(what.clone(), what)
        };
        self.implausible.iter().map(of).collect()
    }

    /// Of the whole recording, of so many seconds and an infant of this weight in kilograms; columns as it was read by,
    /// and how a time in seconds is told.
    pub(crate) fn of_all(
        &mut self,
        seconds: f64,
        kg: Option<f64>,
        columns: Option<&Columns>,
        clock: &dyn Fn(f64) -> String,
    ) -> Vec<Doubt> {
        let factor = |role: Role| match (role, columns) {
            (Role::Flow, Some(columns)) => columns.flow.factor.abs(),
            (Role::Pressure, Some(columns)) => columns.pressure.factor.abs(),
            _ => 1.0,
        };
        let mut doubts = Vec::new();
        doubts.extend(self.spacing.doubt(seconds, self.breaths, columns, clock));
        doubts.extend(self.of_flow(kg, factor(Role::Flow)));
        doubts.extend(self.of_pressure(factor(Role::Pressure)));
        for (what, values) in [("flow", &self.flow), ("pressure", &self.pressure)] {
            doubts.extend(values.clipped(what).into_iter().filter(|_| self.breaths >= FEW));
        }
        doubts
    }

    /// Whether flow is so large or so small that its unit is another.
    fn of_flow(&self, kg: Option<f64>, factor: f64) -> Option<Doubt> {
        let mean = self.flow.mean_size()?;
        let told = self.implausible.keys().any(|why| {
            matches!(why, Implausible::TooLarge | Implausible::TooMuch | Implausible::TooSmall)
        });
        let swings = self.pressure.spread()? >= SWING;
        let is_little = match kg {
            Some(kg) => mean < units::FLOW_PER_KG[0] * kg,
            None => mean < units::FLOW_LEAST,
        };
        let is_much = kg.is_some_and(|kg| mean > units::FLOW_PER_KG[1] * kg);
        if !(is_much || is_little && swings || told) {
            return None;
        }
        let per_kg = kg
            .map_or(String::new(), |kg| format!(", {} for each kilogram", decimals(mean / kg, 2)));
        let guess = units::flow(mean, kg, factor);
        let guess = match guess.as_deref() {
            Some(guess) => guess,
            // What the monitor says of breaths stands alone where no unit explains it.
            None if !(is_much || is_little) => return None,
            None => {
                "no unit of flow makes it plausible: a sensor that is dead or not connected, or the weight"
            }
        };
        Some(Doubt::new(
            format!("flow in another unit? {guess}"),
            format!("flow is {} mL/s on average{per_kg}: {guess}", decimals(mean, 2)),
        ))
    }

    fn of_pressure(&self, factor: f64) -> Option<Doubt> {
        if let Some(mean) = self.pressure.mean_beyond() {
            let guess = units::far_pressure(mean, factor);
            return Some(Doubt::new(
                format!("pressure beyond all airways: {guess}"),
                format!(
                    "pressure lies beyond 200 cmH2O in most samples, at {} on average: {guess}",
                    decimals(mean, 0)
                ),
            ));
        }
        let (low, middle, high) = (
            self.pressure.quantile(0.01)?,
            self.pressure.quantile(0.5)?,
            self.pressure.quantile(0.99)?,
        );
        if middle > HIGH || high > Role::Pressure.beyond() {
            let guess = units::pressure(middle, high, factor);
            let guess = guess.unwrap_or_else(|| "its unit or its zero may be another".into());
            return Some(Doubt::new(
                format!("pressure too high: {guess}"),
                format!(
                    "pressure lies at {} cmH2O in the middle and up to {}: {guess}",
                    decimals(middle, 1),
                    decimals(high, 1)
                ),
            ));
        }
        if self.breaths < FEW {
            return None;
        }
        let (lead, follow) = self.follows.most().unwrap_or((0.0, 1.0));
        if self.pressure.is_constant() {
            return Some(Doubt::new(
                "pressure never moves",
                format!(
                    "pressure stands at {} cmH2O in all samples while flow goes on: its sensor is stuck or not connected. \
                     Inflations, causes and signs of load cannot be told",
                    decimals(middle, 1)
                ),
            ));
        }
        let under = self.pressure.share_under(-0.5);
        if under > UNDER_ZERO {
            let (short, what) = if lead > DRIVES {
                (
                    "signs of flow and pressure turned",
                    "pressure and flow may both have their signs turned (--columns flow=-NAME,pressure=-NAME), or the \
                     pressure another zero",
                )
            } else {
                (
                    "sign of pressure turned",
                    "the sign of pressure may be turned (--columns pressure=-NAME), or its zero another",
                )
            };
            return Some(Doubt::new(
                short,
                format!("pressure lies under zero in {} of all samples: {what}", percent(under)),
            ));
        }
        // Where a sign turns on the way both signs cancel.
        let turns = self.implausible.contains_key(&Implausible::Inverted);
        if follow < UNRELATED && !turns {
            return Some(Doubt::new(
                "pressure does not follow flow",
                "pressure has nothing to do with flow: its sensor is stuck, not connected, or of another recording. \
                 Inflations, causes and signs of load cannot be told",
            ));
        }
        if high - low < SWING && lead > DRIVES {
            let swing = decimals(high - low, 2);
            let guess = units::pressure(middle, high, factor);
            let guess = guess.unwrap_or_else(|| "its unit may be another".into());
            return Some(Doubt::new(
                format!("pressure swings too little: {guess}"),
                format!("pressure drives the flow and swings by {swing} cmH2O only: {guess}"),
            ));
        }
        None
    }
}

/// One line on standard error for each.
pub(crate) fn say(name: &str, doubts: &[Doubt]) {
    for doubt in doubts {
        let text = format!("{name}: in doubt: {}", doubt.full);
        eprintln!("{}", crate::text::printable(&text));
    }
}
