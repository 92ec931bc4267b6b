//! Which changes each test reaches, and how long it takes.

use crate::tests::{self, Ended, Test};
use crate::tree::Built;
use std::collections::BTreeSet;
use std::path::Path;
use std::process::Command;
use std::sync::Mutex;
use std::time::Duration;

/// A test that takes longer is not asked.
const LONGEST: Duration = crate::judge::QUICK;

/// Every test that passes with nothing changed.
pub fn reach(built: &Built, work: &Path) -> Vec<Test> {
    let mut waiting = Vec::new();
    for binary in &built.binaries {
        let out = Command::new(binary).args(["--list", "--format=terse"]).output();
        let out = out.expect("a list of tests");
        let text = String::from_utf8_lossy(&out.stdout).into_owned();
        waiting.extend(text.lines().filter_map(|line| line.strip_suffix(": test")).map(|name| {
            let (binary, folder) = (binary.clone(), built.tree.clone());
            Test { binary, folder, name: name.to_owned(), takes: LONGEST, reached: Vec::new() }
        }));
    }
    let (waiting, done) = (Mutex::new(waiting), Mutex::new(Vec::new()));
    std::thread::scope(|scope| {
        for lane in 0..2 {
            let (waiting, done) = (&waiting, &done);
            let file = work.join(format!("reached-{lane}.txt"));
            let said = work.join(format!("said-{lane}.txt"));
            scope.spawn(move || {
                loop {
                    let Some(mut test) = waiting.lock().unwrap().pop() else { return };
                    let _ = std::fs::remove_file(&file);
                    let told = [("MUTANTS_REACHED", file.display().to_string())];
                    let (ended, took) = tests::run(&[&test], &told, LONGEST, &said);
                    if ended != Ended::Passed {
                        println!(
                            "left out, since it fails with nothing changed or takes too long: {}",
                            test.name
                        );
                        continue;
                    }
                    test.takes = took.max(Duration::from_millis(1));
                    let text = std::fs::read_to_string(&file).unwrap_or_default();
                    let reached: BTreeSet<u32> =
                        text.lines().filter_map(|line| line.parse().ok()).collect();
                    test.reached = reached.into_iter().collect();
                    done.lock().unwrap().push(test);
                }
            });
        }
    });
    done.into_inner().unwrap()
}
