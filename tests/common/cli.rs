//! Runs the replay program.

use std::io::Write;
use std::path::PathBuf;
use std::process::{Command, Stdio};
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

/// Runs with arguments and a text on standard input that then closes.
pub(crate) fn replay_stdin(args: &[&str], input: &str) -> Outcome {
    let mut child = Command::new(program())
        .args(args)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // A program that refuses its arguments reads nothing: a broken pipe is no failure here.
    let _ = child.stdin.take().unwrap().write_all(input.as_bytes());
    let output = child.wait_with_output().unwrap();
    Outcome {
        code: output.status.code().unwrap_or(-1),
        stdout: String::from_utf8_lossy(&output.stdout).into_owned(),
        stderr: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}
