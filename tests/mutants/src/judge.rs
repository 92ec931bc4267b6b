//! Wakes each change and asks the tests that reach it.

use crate::change::Change;
use crate::tests::{Ended, Test};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU32, AtomicUsize, Ordering};
use std::time::Duration;

/// The tests asked for one change take no longer than this with nothing changed, but that one at least is asked.
const QUICK: Duration = Duration::from_secs(12);

/// By which test each is caught.
pub fn all(changes: &[Change], tests: &[Test]) -> Vec<Option<String>> {
    let next = AtomicUsize::new(0);
    let verdicts = Mutex::new(vec![None; changes.len()]);
    // How many each test has caught so far.
    let caught: Vec<AtomicU32> = tests.iter().map(|_| AtomicU32::new(0)).collect();
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                loop {
                    let i = next.fetch_add(1, Ordering::Relaxed);
                    let Some(change) = changes.get(i) else { return };
                    let by = one(change, tests, &caught);
                    verdicts.lock().unwrap()[i] = by;
                    if i % 200 == 199 {
                        println!("{} of {}", i + 1, changes.len());
                    }
                }
            });
        }
    });
    verdicts.into_inner().unwrap()
}

/// The tests that caught most for the time they take come first.
fn one(change: &Change, tests: &[Test], caught: &[AtomicU32]) -> Option<String> {
    let reaching = tests.iter().zip(caught);
    let mut asked: Vec<_> = reaching
        .filter(|(test, _)| test.reached.binary_search(&change.number).is_ok())
        .map(|(test, caught)| {
            let worth = f64::from(caught.load(Ordering::Relaxed) + 1) / test.takes.as_secs_f64();
            (test, caught, worth)
        })
        .collect();
    asked.sort_by(|a, b| b.2.total_cmp(&a.2));
    let mut spent = Duration::ZERO;
    let awake = [("MUTANT", change.number.to_string())];
    for (test, caught, _) in asked {
        if spent > Duration::ZERO && spent + test.takes > QUICK {
            continue;
        }
        spent += test.takes;
        let longest = test.takes * 5 + Duration::from_secs(3);
        if test.run(&awake, longest) != Ended::Passed {
            caught.fetch_add(1, Ordering::Relaxed);
            return Some(test.name.clone());
        }
    }
    None
}
