//! Replays a recording (or the built-in demo shift) through the monitor and reports what it found.
//!
//! Advisory only; not a medical device.

mod args;
mod cells;
mod chart;
mod clock;
mod columns;
mod config;
mod course;
mod doc;
mod figures;
mod input;
mod lines;
mod many;
mod output;
mod page;
mod place;
mod report;
mod row;
mod same;
mod sheet;
mod source;
mod steps;
mod text;
mod timeline;
mod trial;

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
    if let (Some(folder), Some(out)) = (&args.many, &args.out) {
        return many::replay(folder, out, args);
    }
    let mut source = source::open(args)?;
    let setup = config::setup(args, source.defaults())?;
    let mut outputs = output::Outputs::create(args)?;
    let summary = source::replay(&mut source, &setup, &mut outputs, args.strict)?;
    let report = report::write(&summary, &setup);
    outputs.keep(&report, &summary.steps)?;
    if !args.quiet {
        let mut out = io::stdout().lock();
        match out.write_all(report.text().as_bytes()).and_then(|()| out.flush()) {
            // A reader that has seen enough is no error.
            Err(e) if e.kind() == io::ErrorKind::BrokenPipe => {}
            done => done.context("cannot write the report")?,
        }
    }
    Ok(())
}
