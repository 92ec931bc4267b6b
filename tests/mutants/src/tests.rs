//! A test of a built binary, and how it is run.

use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// One test function.
#[derive(Debug, Clone)]
pub struct Test {
    pub binary: PathBuf,
    pub folder: PathBuf,
    pub name: String,
    /// How long it takes with nothing changed.
    pub takes: Duration,
    pub reached: Vec<u32>,
}

/// How a run ended.
#[derive(Debug, PartialEq, Eq)]
pub enum Ended {
    Passed,
    Failed,
    /// It went on and on.
    Stopped,
}

impl Test {
    /// Runs it with such an environment for so long at most.
    pub fn run(&self, environment: &[(&str, String)], longest: Duration) -> Ended {
        let mut command = Command::new(&self.binary);
        command.args(["--exact", &self.name, "--test-threads=1", "-q"]);
        command.current_dir(&self.folder).stdin(Stdio::null());
        command.stdout(Stdio::null()).stderr(Stdio::null());
        // A few cases a property and few scenarios: what a change breaks it breaks at once.
        command.env("PROPTEST_CASES", "16").env("PIPELINE", "8").env("SOAK", "1");
        command.env("PROPTEST_DISABLE_FAILURE_PERSISTENCE", "true").env("RUST_BACKTRACE", "0");
        command.env("PROPTEST_RNG_SEED", "7");
        command.envs(environment.iter().map(|(name, value)| (*name, value)));
        let begun = Instant::now();
        let mut child = command.spawn().expect("a test that runs");
        let mut pause = 1;
        loop {
            if let Some(status) = child.try_wait().expect("a test under way") {
                return if status.success() { Ended::Passed } else { Ended::Failed };
            }
            if begun.elapsed() > longest {
                let _ = child.kill();
                let _ = child.wait();
                return Ended::Stopped;
            }
            std::thread::sleep(Duration::from_millis(pause));
            pause = (pause * 2).min(20);
        }
    }
}
