//! Mutation testing that builds once: every small change of the library stands in one tree, asleep; a number in the
//! environment wakes one. The tests that reach a change are run against it, those that catch most for their
//! time first, until one fails.
//!
//! `tidevane-mutants ROOT WORK [FILE...]`: the project, a folder to work in, and files (below `src`) to change; all
//! without one. With `EVERY=4` in the environment every fourth change alone is asked for: a sample;
//! with `ONLY=FILE` those whose names stand in a file, as survivors of a run do. `QUICK=4` gives each 4 seconds of tests in
//! place of 12: a first look, whose survivors are to be asked again. Run by `.ci/mutants`.

mod change;
mod cover;
mod equal;
mod judge;
mod tests;
mod tree;

use std::collections::BTreeSet;
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::{Duration, Instant};

fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1);
    let (Some(root), Some(work)) = (arguments.next(), arguments.next()) else {
        eprintln!("tidevane-mutants ROOT WORK [FILE...]");
        return ExitCode::FAILURE;
    };
    let (root, work) = (PathBuf::from(root), PathBuf::from(work));
    let files: Vec<String> = arguments.collect();
    let begun = Instant::now();
    let mut built = tree::build(&root, &work, &files);
    if let Some(every) = std::env::var("EVERY").ok().and_then(|every| every.parse::<u32>().ok()) {
        built.changes.retain(|change| change.number % every == 0);
    }
    if let Ok(only) = std::env::var("ONLY") {
        let names = std::fs::read_to_string(only).expect("a list of names");
        built.changes.retain(|change| names.lines().any(|name| name == change.name));
    }
    println!("{} changes, built in {} s", built.changes.len(), begun.elapsed().as_secs());
    let quick = std::env::var("QUICK").ok().and_then(|quick| quick.parse().ok());
    let quick = quick.map_or(judge::QUICK, Duration::from_secs);
    let tests = cover::reach(&built, &work);
    println!("{} tests, reached in {} s", tests.len(), begun.elapsed().as_secs());
    let verdicts = judge::all(&built.changes, &tests, quick, &work);
    let equal = equal::read(&root);
    let mut survivors = BTreeSet::new();
    let (mut caught, mut same) = (0, 0);
    for (change, caught_by) in built.changes.iter().zip(&verdicts) {
        match caught_by {
            Some(_) => caught += 1,
            None if equal.contains_key(&change.name) => same += 1,
            None => {
                survivors.insert(change.name.as_str());
            }
        }
    }
    let list: String = survivors.iter().map(|name| format!("{name}\n")).collect();
    std::fs::write(work.join("survivors.txt"), &list).expect("a list of survivors");
    let stale = equal::stale(&equal, &built.changes, &verdicts);
    for name in &stale {
        println!("said to change nothing, and caught: {name}");
    }
    let counted = built.changes.len() - same;
    let share = 100.0 * f64::from(caught) / counted.max(1) as f64;
    println!("{list}{caught} of {counted} changes caught: {share:.1} %; {same} change nothing");
    println!("all done in {} s", begun.elapsed().as_secs());
    if share >= 94.0 && stale.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
