//! A test of a built binary, and how such are run.

use std::fs::File;
use std::path::{Path, PathBuf};
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

/// A machine that others use too is waited for so many times as long.
const MOST_OTHERS: u32 = 10;

/// Runs tests of one binary, one behind the other, with such an environment for so long at most; what they say goes to
/// `said`. How they ended, and how long they took of a processor.
pub fn run(
    tests: &[&Test],
    environment: &[(&str, String)],
    longest: Duration,
    said: &Path,
) -> (Ended, Duration) {
    let mut command = Command::new(&tests[0].binary);
    command.args(["--exact", "--test-threads=1", "-q"]).args(tests.iter().map(|test| &test.name));
    command.current_dir(&tests[0].folder).stdin(Stdio::null());
    command.stdout(File::create(said).expect("a file")).stderr(Stdio::null());
    // A few cases a property and few scenarios: what a change breaks it breaks at once. With fewer than 40 one border
    // on its other side is more than the share that the oracle allows: it would fail with nothing changed.
    command.env("PROPTEST_CASES", "16").env("PIPELINE", "40").env("SOAK", "1");
    command.env("PROPTEST_DISABLE_FAILURE_PERSISTENCE", "true").env("RUST_BACKTRACE", "0");
    command.env("PROPTEST_RNG_SEED", "7");
    command.envs(environment.iter().map(|(name, value)| (*name, value)));
    let begun = Instant::now();
    let mut child = command.spawn().expect("a test that runs");
    let mut took = Duration::ZERO;
    loop {
        let elapsed = begun.elapsed();
        took = processor(child.id()).unwrap_or(elapsed).min(elapsed).max(took);
        if let Some(status) = child.try_wait().expect("a test under way") {
            // A short one in full: the processor's clock goes in steps of 10 ms.
            took = if elapsed < Duration::from_millis(50) { elapsed } else { took };
            return (if status.success() { Ended::Passed } else { Ended::Failed }, took);
        }
        if took > longest || elapsed > longest * MOST_OTHERS {
            let _ = child.kill();
            let _ = child.wait();
            return (Ended::Stopped, took);
        }
        let pause = (elapsed / 8).clamp(Duration::from_millis(1), Duration::from_millis(20));
        std::thread::sleep(pause);
    }
}

/// How long the processor worked for it so far, as Linux tells: others on the machine change no verdict.
fn processor(process: u32) -> Option<Duration> {
    let text = std::fs::read_to_string(format!("/proc/{process}/stat")).ok()?;
    // Behind the name in brackets: the 12th and 13th, in hundredths of a second.
    let mut numbers = text.rsplit_once(')')?.1.split_whitespace().skip(11);
    let mut next = || numbers.next()?.parse::<u64>().ok();
    Some(Duration::from_millis((next()? + next()?) * 10))
}

/// Which of them failed, as it was said; `None` where they ended before a word.
pub fn failed<'a>(tests: &[&'a Test], said: &Path) -> Option<&'a Test> {
    let text = std::fs::read_to_string(said).unwrap_or_default();
    let names = text.lines().filter_map(|line| line.strip_prefix("    ")).collect::<Vec<_>>();
    tests.iter().find(|test| names.contains(&test.name.as_str())).copied()
}
