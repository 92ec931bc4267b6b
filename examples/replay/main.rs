//! Replays a recording (or the built-in demo shift) through the monitor and reports what it found.
//!
//! Advisory only; not a medical device.

mod args;
mod cells;
mod chart;
mod clock;
mod columns;
mod config;
mod figures;
mod input;
mod lines;
mod output;
mod place;
mod report;
mod same;
mod source;
mod text;
mod timeline;

use anyhow::{Context, Result};
use args::Args;
use clap::Parser;
use std::io::{self, Write};
use std::process::ExitCode;

fn main() -> ExitCode {
    match run(&Args::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("replay: {error:#}");
            ExitCode::from(2)
        }
    }
}

fn run(args: &Args) -> Result<()> {
    same::refuse(args)?;
    let mut source = source::open(args)?;
    let setup = config::setup(args, source.defaults())?;
    let mut outputs = output::Outputs::create(args)?;
    let summary = source::replay(&mut source, &setup, &mut outputs, args.strict)?;
    outputs.keep()?;
    if !args.quiet {
        let mut out = io::stdout().lock();
        match report::write(&mut out, &summary, &setup.settings).and_then(|()| out.flush()) {
            // A reader that has seen enough is no error.
            Err(e) if e.kind() == io::ErrorKind::BrokenPipe => {}
            done => done.context("cannot write the report")?,
        }
    }
    Ok(())
}
