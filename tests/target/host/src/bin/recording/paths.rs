//! The recording of every path, as items.

use anyhow::Result;
use tidevane::monitor::MachineSettings;
use tidevane::quantity::Instant;
use tidevane_sim::demo::Dialled;
use tidevane_sim::{Scenario, Simulator};
use tidevane_support::paths::{CLOCK_RESET_S, SECONDS, failing, scenario};
use tidevane_target::item::Item;
use tidevane_target::settings;

fn machine(scenario: &Scenario, at: f64) -> Result<MachineSettings> {
    let set = &scenario.machine;
    Ok(settings::machine(&Dialled {
        threshold: set.threshold.at(at),
        set_rate: set.set_rate.at(at),
        peak: set.peak.at(at),
        support_peak: None,
    })?)
}

/// The recording.
///
/// # Errors
/// As the simulator and the settings say.
pub(crate) fn paths() -> Result<Vec<Item>> {
    let scenario = scenario();
    let mut simulator = Simulator::new(&scenario)?;
    let (mut items, mut set) = (Vec::new(), None);
    // The usual 100 samples a second.
    for n in 0..SECONDS * 100 {
        let output = simulator.step();
        let own_us = output.at_us;
        let since_us = CLOCK_RESET_S * 1_000_000;
        // Three seconds are missing before the clock begins anew.
        if own_us >= since_us && own_us < since_us + 3_000_000 {
            continue;
        }
        let at = Instant::from_us(if own_us < since_us { own_us } else { own_us - since_us });
        let now = machine(&scenario, own_us as f64 / 1e6)?;
        if set != Some(now) {
            set = Some(now);
            items.push(Item::Machine(at, now));
        }
        // A gap that cuts the breath under way.
        if own_us >= 845_000_000 && own_us < 848_000_000 {
            continue;
        }
        items.push(match Item::simulated(at, output.sample) {
            Item::Sample(at, reading) => failing(own_us as f64 / 1e6, n, reading)
                .map_or(Item::Lost, |reading| Item::Sample(at, reading)),
            other => other,
        });
    }
    Ok(items)
}
