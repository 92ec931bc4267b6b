//! Runs the replay program.

use std::fs::File;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Output, Stdio};

/// How a run ended.
pub(crate) struct Outcome {
    pub(crate) code: i32,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
}

/// The program, told to print the whole report.
fn program() -> Command {
    let mut program = Command::new(env!("CARGO_BIN_EXE_replay"));
    program.arg("--full");
    program
}

/// Runs inside a folder and prints the top of the report alone.
pub(crate) fn replay_brief(folder: &Path, args: &[&str]) -> Outcome {
    let mut program = Command::new(env!("CARGO_BIN_EXE_replay"));
    run(program.current_dir(folder).args(args).stdout(Stdio::piped()), "")
}

/// Runs with arguments and nothing on standard input.
pub(crate) fn replay(args: &[&str]) -> Outcome {
    replay_stdin(args, "")
}

/// Runs inside a folder.
pub(crate) fn replay_in(folder: &Path, args: &[&str]) -> Outcome {
    run(program().current_dir(folder).args(args).stdout(Stdio::piped()), "")
}

/// Runs inside a folder with standard output going to a new file.
pub(crate) fn replay_to(out: &str, folder: &Path, args: &[&str]) -> Outcome {
    let out = File::create(out).unwrap();
    run(program().current_dir(folder).args(args).stdout(out), "")
}

/// Runs with arguments and a text on standard input that then closes.
pub(crate) fn replay_stdin(args: &[&str], input: &str) -> Outcome {
    run(program().args(args).stdout(Stdio::piped()), input)
}

/// Runs inside a folder with standard input coming from a file.
pub(crate) fn replay_from(input: &str, folder: &Path, args: &[&str]) -> Outcome {
    let mut command = program();
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
