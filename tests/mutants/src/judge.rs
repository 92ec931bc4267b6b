//! Wakes each change and asks the tests that reach it.

use crate::change::Change;
use crate::tests::{Ended, Test};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

/// The tests asked for one change take no longer than this with nothing changed, but that one at least is asked.
const QUICK: Duration = Duration::from_secs(15);

/// By which test each is caught.
pub fn all(changes: &[Change], tests: &[Test]) -> Vec<Option<String>> {
    let next = AtomicUsize::new(0);
    let verdicts = Mutex::new(vec![None; changes.len()]);
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                loop {
                    let i = next.fetch_add(1, Ordering::Relaxed);
                    let Some(change) = changes.get(i) else { return };
                    let caught = one(change, tests);
                    verdicts.lock().unwrap()[i] = caught;
                    if i % 200 == 199 {
                        println!("{} of {}", i + 1, changes.len());
                    }
                }
            });
        }
    });
    verdicts.into_inner().unwrap()
}

fn one(change: &Change, tests: &[Test]) -> Option<String> {
    let mut spent = Duration::ZERO;
    let awake = [("MUTANT", change.number.to_string())];
    for test in tests.iter().filter(|test| test.reached.binary_search(&change.number).is_ok()) {
        if spent > Duration::ZERO && spent + test.takes > QUICK {
            break;
        }
        spent += test.takes;
        let longest = test.takes * 5 + Duration::from_secs(3);
        if test.run(&awake, longest) != Ended::Passed {
            return Some(test.name.clone());
        }
    }
    None
}
