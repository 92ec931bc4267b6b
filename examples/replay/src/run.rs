//! One run of the program, from its arguments to its last file.

use crate::args::Args;
use crate::output::files::Outputs;
use crate::output::same;
use crate::report::Report;
use crate::{config, many, record, save, source};
use anyhow::{Context, Result};
use std::io::{self, Write};

/// Replays what the arguments name, writes the files they ask for and prints the report.
///
/// # Errors
/// What cannot be read, understood or written, in words for the caller; then no file is written.
pub fn run(args: &Args) -> Result<()> {
    same::refuse(args)?;
    if let Some(to) = &args.save_demo {
        return save::demo(to);
    }
    if let (Some(folder), Some(out)) = (&args.many, &args.out) {
        return many::replay(folder, out, args);
    }
    let file = config::File::read(args)?;
    let mut source = source::open(args, &file.layout(args)?)?;
    let setup = config::setup(args, file, source.defaults())?;
    let mut outputs = Outputs::create(args)?;
    let summary = record::replay(&mut source, &setup, &mut outputs, args.strict)?;
    let report = Report::new(&summary, &setup);
    outputs.keep(&report)?;
    if !args.quiet {
        let text = if args.full { report.markdown() } else { report.brief() };
        let mut out = io::stdout().lock();
        match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
            // A reader that has seen enough is no error.
            Err(e) if e.kind() == io::ErrorKind::BrokenPipe => {}
            done => done.context("cannot write the report")?,
        }
    }
    Ok(())
}
