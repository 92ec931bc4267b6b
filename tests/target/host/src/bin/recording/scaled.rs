//! An infant by sampling rate, breaths a minute and the share of the time in which nobody but the machine
//! breathes: to see what a check costs over each.

use anyhow::{Context, Result};
use tidevane::quantity::Instant;
use tidevane_sim::{
    EffortSettings, LeakSettings, Pattern, Scenario, Schedule, Simulator, VentilatorSettings,
};
use tidevane_target::item::Item;

/// One value up to a moment, and another from there on.
fn changing<T: Copy>(first: T, from: f64, later: T) -> Schedule<T> {
    if from > 0.0 { Schedule::constant(first).then(from, later) } else { Schedule::constant(later) }
}

/// The recording of `HERTZ:BREATHS:PASSIVE:SECONDS`.
///
/// # Errors
/// Numbers that are none, or that cannot be simulated.
pub(crate) fn scaled(text: &str) -> Result<Vec<Item>> {
    let mut numbers = text.split(':').map(str::parse::<f64>);
    let mut next = || numbers.next().context("HERTZ:BREATHS:PASSIVE:SECONDS")?.context("a number");
    let (hertz, breaths, passive, seconds) = (next()?, next()?, next()?, next()?);
    let active_from = passive * seconds;
    let scenario = Scenario {
        period_us: (1e6 / hertz).round() as u32,
        leak: LeakSettings { size: Schedule::constant(0.5), ..LeakSettings::default() },
        effort: EffortSettings {
            rate: changing(0.0, active_from, breaths),
            duration: (18.0 / breaths).min(0.35),
            ..EffortSettings::default()
        },
        machine: VentilatorSettings {
            pattern: changing(Pattern::Timed, active_from, Pattern::EveryBreath),
            set_rate: changing(breaths, active_from, (breaths / 2.0).floor()),
            inspiratory_time: (20.0 / breaths).min(0.35),
            ..VentilatorSettings::default()
        },
        ..Scenario::default()
    };
    let mut simulator = Simulator::new(&scenario)?;
    let item = |_| {
        let output = simulator.step();
        Item::simulated(Instant::from_us(output.at_us), output.sample)
    };
    Ok((0..(seconds * hertz) as u64).map(item).collect())
}
