//! The journal beside a monitor that runs: what it keeps, and what makes room.

use tidevane::monitor::{EventKind, Journal, Monitor, Settings};
use tidevane::quantity::Rate;
use tidevane_sim::{Scenario, Simulator};
use tidevane_support::simulated::{at, reading};

#[test]
fn a_monitor_that_runs_fills_it_in_order() {
    // A step a minute for twelve minutes, four places: eight entries made room, in order.
    let mut simulator = Simulator::new(&Scenario::default()).unwrap();
    let mut monitor = Monitor::new(Settings::default());
    let mut journal = Journal::<4>::new();
    let mut steps = 0;
    for i in 0..72_000_u32 {
        let output = simulator.step();
        if i % 6_000 == 5_999 {
            let rate = Rate::from_int(if steps % 2 == 0 { 20 } else { 30 });
            let settings = monitor.settings().change().set_rate(rate).build().unwrap();
            journal.take(&monitor.settings_changed(at(&output), settings));
            steps += 1;
        }
        if let Some(s) = output.sample {
            journal.take(&monitor.push_at(at(&output), reading(&s)));
        }
    }
    assert_eq!((steps, journal.len(), journal.lost()), (12, 4, 8));
    let numbers: Vec<_> = journal.entries().map(|e| e.number).collect();
    assert_eq!(numbers, [8, 9, 10, 11]);
    assert!(journal.entries().all(|e| matches!(e.event.what, EventKind::WeanStep(_))));
}
