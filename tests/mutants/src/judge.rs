//! Wakes each change and asks the tests that reach it.

use crate::change::Change;
use crate::tests::{self, Ended, Test};
use std::collections::BTreeMap;
use std::fs::File;
use std::io::Write;
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

/// The tests asked for one change take no longer than this with nothing changed, if no `QUICK` says otherwise.
pub const QUICK: Duration = Duration::from_secs(12);

/// Those that caught most are asked one by one; of the others such as end sooner than this share a run.
const ALONE: usize = 3;
const SMALL: Duration = Duration::from_millis(100);
const SHARED: Duration = Duration::from_millis(500);

/// How many changes each test has caught so far, by the file they stand in, and in all.
type Caught = BTreeMap<(String, String), u32>;

/// By which test each is caught. Each is written to `verdicts.txt` below `work` as it comes, with its milliseconds.
/// Every fourth comes first: a run that is cut short is a sample of all.
pub fn all(
    changes: &[Change],
    tests: &[Test],
    quick: Duration,
    work: &Path,
) -> Vec<Option<String>> {
    let order: Vec<usize> = (0..4).flat_map(|k| (k..changes.len()).step_by(4)).collect();
    let next = AtomicUsize::new(0);
    let verdicts = Mutex::new(vec![None; changes.len()]);
    let told = Mutex::new(File::create(work.join("verdicts.txt")).expect("a list of verdicts"));
    let caught = Mutex::new(Caught::new());
    std::thread::scope(|scope| {
        for lane in 0..2 {
            let (next, order, verdicts, told, caught) = (&next, &order, &verdicts, &told, &caught);
            let said = work.join(format!("said-{lane}.txt"));
            scope.spawn(move || {
                loop {
                    let at = next.fetch_add(1, Ordering::Relaxed);
                    let Some(&i) = order.get(at) else { return };
                    let begun = Instant::now();
                    let by = one(&changes[i], tests, quick, caught, &said);
                    let took = begun.elapsed().as_millis();
                    let word = by.as_deref().unwrap_or("-");
                    let line = format!("{}\t{word}\t{took}\n", changes[i].name);
                    told.lock().unwrap().write_all(line.as_bytes()).expect("a verdict");
                    verdicts.lock().unwrap()[i] = by;
                    if at % 200 == 199 {
                        println!("{} of {}", at + 1, changes.len());
                    }
                }
            });
        }
    });
    verdicts.into_inner().unwrap()
}

/// The tests that caught most for the time they take come first: what they caught in the same file counts most, and its
/// own tests are thought to.
fn one(
    change: &Change,
    tests: &[Test],
    quick: Duration,
    caught: &Mutex<Caught>,
    said: &Path,
) -> Option<String> {
    let file = change.name.split(':').next().unwrap_or_default().to_owned();
    // Its own tests are named so.
    let room = file.trim_end_matches(".rs").replace('/', "::");
    let mut asked: Vec<(&Test, f64)> = {
        let caught = caught.lock().unwrap();
        let count = |file: &str, test: &Test| {
            f64::from(caught.get(&(file.to_owned(), test.name.clone())).copied().unwrap_or(0))
        };
        let reaching = tests.iter().filter(|t| t.reached.binary_search(&change.number).is_ok());
        reaching
            .map(|t| {
                let own = if t.name.starts_with(&room) { 10.0 } else { 1.0 };
                let most = own + count("", t) + 50.0 * count(&file, t);
                (t, most / t.takes.as_secs_f64())
            })
            .collect()
    };
    asked.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut spent = Duration::ZERO;
    asked.retain(|(test, _)| {
        let fits = spent + test.takes <= quick;
        spent += if fits { test.takes } else { Duration::ZERO };
        fits
    });
    let tests: Vec<&Test> = asked.into_iter().map(|(test, _)| test).collect();
    for run in runs(&tests) {
        let takes: Duration =
            run.iter().map(|test| test.takes).fold(Duration::ZERO, Duration::saturating_add);
        let awake = [("MUTANT", change.number.to_string())];
        let longest = takes * 5 + Duration::from_secs(3);
        if tests::run(&run, &awake, longest, said).0 != Ended::Passed {
            let by = tests::failed(&run, said).unwrap_or(run[0]);
            let mut caught = caught.lock().unwrap();
            for file in [file, String::new()] {
                *caught.entry((file, by.name.clone())).or_default() += 1;
            }
            return Some(by.name.clone());
        }
    }
    None
}

/// The first alone, then the small ones together, those with the best of them first, then the large.
fn runs<'a>(tests: &[&'a Test]) -> Vec<Vec<&'a Test>> {
    let (first, others) = tests.split_at(tests.len().min(ALONE));
    let (small, large): (Vec<&Test>, Vec<&Test>) = others.iter().partition(|t| t.takes <= SMALL);
    let mut together: Vec<(Vec<&Test>, Duration)> = Vec::new();
    for test in small {
        let fits = |(run, takes): &&mut (Vec<&Test>, Duration)| {
            run[0].binary == test.binary && *takes <= SHARED
        };
        match together.iter_mut().find(fits) {
            Some((run, takes)) => {
                run.push(test);
                *takes += test.takes;
            }
            None => together.push((vec![test], test.takes)),
        }
    }
    let alone = first.iter().map(|test| vec![*test]);
    let together = together.into_iter().map(|(run, _)| run);
    alone.chain(together).chain(large.into_iter().map(|test| vec![test])).collect()
}
