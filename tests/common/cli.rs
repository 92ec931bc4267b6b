//! Runs the replay program.

use std::fs::File;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::OnceLock;

/// How a run ended.
pub(crate) struct Outcome {
    pub(crate) code: i32,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
}

/// The program as the test run built it; built here where only some tests were asked for.
fn program() -> &'static PathBuf {
    static PROGRAM: OnceLock<PathBuf> = OnceLock::new();
    PROGRAM.get_or_init(|| {
        let cargo = std::env::var("CARGO").unwrap_or_else(|_| "cargo".into());
        let here = std::env::current_exe().unwrap();
        let profile = here.parent().unwrap().parent().unwrap().to_owned();
        let mut build = Command::new(cargo);
        build.args(["build", "--quiet", "--example", "replay"]);
        if profile.ends_with("release") {
            build.arg("--release");
        }
        assert!(build.current_dir(env!("CARGO_MANIFEST_DIR")).status().unwrap().success());
        profile.join("examples").join(format!("replay{}", std::env::consts::EXE_SUFFIX))
    })
}

/// Runs with arguments and nothing on standard input.
pub(crate) fn replay(args: &[&str]) -> Outcome {
    replay_stdin(args, "")
}

/// Runs inside a folder.
pub(crate) fn replay_in(folder: &Path, args: &[&str]) -> Outcome {
    run(Command::new(program()).current_dir(folder).args(args).stdout(Stdio::piped()), "")
}

/// Runs inside a folder with standard output going to a new file.
pub(crate) fn replay_to(out: &str, folder: &Path, args: &[&str]) -> Outcome {
    let out = File::create(out).unwrap();
    run(Command::new(program()).current_dir(folder).args(args).stdout(out), "")
}

/// Runs with arguments and a text on standard input that then closes.
pub(crate) fn replay_stdin(args: &[&str], input: &str) -> Outcome {
    run(Command::new(program()).args(args).stdout(Stdio::piped()), input)
}

/// Runs inside a folder with standard input coming from a file.
pub(crate) fn replay_from(input: &str, folder: &Path, args: &[&str]) -> Outcome {
    let mut command = Command::new(program());
    let input = File::open(input).unwrap();
    ended(command.current_dir(folder).args(args).stdin(input).output().unwrap())
}

fn run(command: &mut Command, input: &str) -> Outcome {
    let mut child = command.stdin(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    // A program that refuses its arguments reads nothing: a broken pipe is no failure here.
    let _ = child.stdin.take().unwrap().write_all(input.as_bytes());
    ended(child.wait_with_output().unwrap())
}

fn ended(output: Output) -> Outcome {
    Outcome {
        code: output.status.code().unwrap_or(-1),
        stdout: String::from_utf8_lossy(&output.stdout).into_owned(),
        stderr: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}
