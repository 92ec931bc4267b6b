//! The program `replay`. Advisory only; not a medical device.

use clap::Parser;
use std::process::ExitCode;
use tidevane_replay::{Args, printable, run, watch};

fn main() -> ExitCode {
    if let Err(error) = watch() {
        eprintln!("replay: scratch files may stay when interrupted: {error}");
    }
    match run(&Args::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("replay: {}", printable(&format!("{error:#}")));
            ExitCode::from(2)
        }
    }
}
