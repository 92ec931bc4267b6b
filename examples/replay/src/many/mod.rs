//! Many recordings at once: a file of each table for each of them, and a summary of all.

mod done;
mod find;
mod settings;

use crate::args::Args;
use crate::input::recording::Recording;
use crate::output::place::Aside;
use crate::source::Source;
use crate::tables::tabulate::tabulate;
use crate::text::printable;
use anyhow::{Context, Result, bail};
use done::{Places, fingerprint};
use find::{Found, printed};
use indicatif::{ProgressBar, ProgressStyle};
use rayon::prelude::*;
use settings::Settings;
use std::fs;
use std::io::Write;
use std::path::Path;

/// What came of a recording.
struct Outcome {
    file: String,
    /// Its row of the summary, or why there is none.
    row: Result<csv::StringRecord, String>,
    /// It was done before.
    resumed: bool,
}

/// Replays every recording of a folder on all cores. One that cannot be read is told and left out, and
/// the run fails when the others are done. What an earlier run has done of the same recordings by the
/// same settings stays.
pub(crate) fn replay(folder: &Path, out: &Path, args: &Args) -> Result<()> {
    if !folder.is_dir() {
        bail!("cannot read the folder {}: it is none", folder.display());
    }
    refuse_place(folder, out)?;
    let settings = Settings::read(args)?;
    let found = find::recordings(folder, out)?;
    if found.is_empty() {
        bail!("{} holds no recording", folder.display());
    }
    if let [first, ..] = settings.unknown(&found)[..] {
        bail!("the table names {first:?}, which {} does not hold", folder.display());
    }
    fs::create_dir_all(out).with_context(|| format!("cannot make the folder {}", out.display()))?;
    let bar = progress(found.len());
    let outcomes: Vec<_> = found
        .par_iter()
        .map(|found| {
            let outcome = one(found, out, &settings, args);
            if let Err(why) = &outcome.row {
                bar.suspend(|| eprintln!("failed: {}", printable(why)));
            }
            bar.inc(1);
            outcome
        })
        .collect();
    bar.finish_and_clear();
    finish(&outcomes, out, args)
}

/// Results do not stand among what is read.
fn refuse_place(folder: &Path, out: &Path) -> Result<()> {
    if out.exists() && !out.is_dir() {
        bail!("--out is a folder for the tables, and {} is none", out.display());
    }
    if out.canonicalize().ok().is_some_and(|out| Some(out) == folder.canonicalize().ok()) {
        bail!("--out is the folder of the recordings; give it one of its own");
    }
    Ok(())
}

fn one(found: &Found, out: &Path, settings: &Settings<'_>, args: &Args) -> Outcome {
    let places = Places::of(out, found, args.tables.end());
    let mut resumed = false;
    let row = (|| {
        if let Some(refused) = found.refused {
            bail!("{}: {refused}", found.path.display());
        }
        let own = settings.of(found).with_context(|| found.path.display().to_string())?;
        let fingerprint = fingerprint(found, &own, args.strict)?;
        if let Some(row) = places.done(&fingerprint) {
            resumed = true;
            return Ok(row);
        }
        places.remove();
        let mut recording = Recording::open(&found.path, &own.layout, args.strict)?;
        recording.hide();
        let mut tables = places.create(&fingerprint)?;
        tabulate(&mut Source::Recording(Box::new(recording)), &own.setup, &mut tables)?;
        tables.keep()?;
        places.done(&fingerprint).context("its tables are gone again")
    })();
    if row.is_err() {
        places.remove();
    }
    Outcome { file: printed(&found.within), row: row.map_err(|why| format!("{why:#}")), resumed }
}

/// The summary of all and the failures, and what is said of them.
fn finish(outcomes: &[Outcome], out: &Path, args: &Args) -> Result<()> {
    let mut summary = csv::Writer::from_writer(Aside::create(&out.join("summary.csv"))?);
    let mut failures = csv::Writer::from_writer(Aside::create(&out.join("failures.csv"))?);
    let columns = done::columns();
    summary.write_record(["file"].into_iter().chain(columns.iter().map(|column| column.name)))?;
    failures.write_record(["file", "reason"])?;
    let place =
        |name: &str| columns.iter().position(|column| column.name == name).map_or(0, |at| at + 1);
    let (hours, breaths) = (place("hours"), place("breaths"));
    let (mut total, mut failed) = ((0.0, 0_u64), 0);
    for outcome in outcomes {
        match &outcome.row {
            Ok(row) => {
                let number = |at: usize| {
                    row.get(at).and_then(|cell| cell.parse::<f64>().ok()).unwrap_or(0.0)
                };
                total = (total.0 + number(hours), total.1 + number(breaths) as u64);
                summary.write_record(row)?;
            }
            Err(why) => {
                failed += 1;
                failures.write_record([&crate::output::sheet::tame(&outcome.file), why])?;
            }
        }
    }
    for table in [summary, failures] {
        let mut aside = table.into_inner().map_err(csv::IntoInnerError::into_error)?;
        aside.flush()?;
        aside.keep()?;
    }
    let (all, resumed) =
        (outcomes.len(), outcomes.iter().filter(|outcome| outcome.resumed).count());
    if failed == all {
        bail!(
            "none of the {all} recordings could be read; {} says why",
            out.join("failures.csv").display()
        );
    }
    if !args.quiet {
        println!(
            "{} breaths in {:.1} h of {} recordings, {resumed} of them done before; {failed} failed. Advisory \
             only, not a medical device.",
            total.1,
            total.0,
            all - failed
        );
    }
    if failed > 0 {
        bail!(
            "{failed} of {all} recordings failed; {} says why",
            out.join("failures.csv").display()
        );
    }
    Ok(())
}

fn progress(files: usize) -> ProgressBar {
    // Drawn on standard error, and only where that is a terminal.
    let style = ProgressStyle::with_template("{bar:30} {pos} of {len} recordings, {eta} left");
    ProgressBar::new(files as u64)
        .with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()))
}
