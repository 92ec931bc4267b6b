//! Many recordings at once: a file of each table for each of them, and a summary of all.

mod digest;
mod done;
mod find;
mod settings;

use crate::args::Args;
use crate::input::recording::Recording;
use crate::output::place::Aside;
use crate::output::sheet::tame;
use crate::source::Source;
use crate::tables::tabulate::tabulate;
use crate::text::printable;
use anyhow::{Context, Result, bail};
use done::{Places, fingerprint};
use find::{Found, printed};
use indicatif::{ProgressBar, ProgressStyle};
use rayon::prelude::*;
use settings::Settings;
use std::cell::RefCell;
use std::fs;
use std::io::Write;
use std::path::{Component, Path, PathBuf};
use std::sync::atomic::{AtomicUsize, Ordering};

/// A folder of recordings, and the folder of their tables.
#[expect(missing_debug_implementations, reason = "settings are shown by their entries")]
pub struct Archive {
    folder: PathBuf,
    out: PathBuf,
    settings: Settings,
}

/// Replays every recording of a folder on all cores. One that cannot be read is told and left out, and
/// the run fails when the others are done. What an earlier run has done of the same recordings by the
/// same settings stays.
pub(crate) fn replay(folder: &Path, out: &Path, args: &Args) -> Result<()> {
    refuse_place(folder, out)?;
    let archive =
        Archive { folder: folder.into(), out: out.into(), settings: Settings::read(args)? };
    let left = RefCell::default();
    let found = archive.found(&left)?;
    for left in left.into_inner() {
        eprintln!("left out: {}", printable(&left));
    }
    if let [first, ..] = archive.settings.unknown(&found)[..] {
        bail!("the table names {first:?}, which {} does not hold", folder.display());
    }
    fs::create_dir_all(out).with_context(|| format!("cannot make the folder {}", out.display()))?;
    let _alone = alone(out)?;
    let bar = progress(found.len());
    let resumed = AtomicUsize::new(0);
    let failures: Vec<_> = found
        .par_iter()
        .filter_map(|found| {
            let outcome = archive.one(found);
            bar.inc(1);
            match outcome {
                Ok(was_done) => {
                    resumed.fetch_add(usize::from(was_done), Ordering::Relaxed);
                    None
                }
                Err(why) => {
                    let why = format!("{why:#}");
                    bar.suspend(|| eprintln!("failed: {}", printable(&why)));
                    Some((printed(&found.within), why))
                }
            }
        })
        .collect();
    bar.finish_and_clear();
    let total = archive.finish(&failures)?;
    let (all, failed, resumed) = (found.len(), failures.len(), resumed.into_inner());
    let said = out.join("failures.csv");
    if failed == all {
        bail!("none of the {all} recordings could be read; {} says why", said.display());
    }
    if !args.quiet {
        println!(
            "{} breaths in {:.1} h of {} recordings, {resumed} of them done before; {failed} failed. Advisory \
             only, not a medical device.",
            total.breaths,
            total.hours,
            all - failed
        );
    }
    if total.doubted > 0 {
        eprintln!(
            "{} of {} recordings are in doubt: their figures are not to be believed; the column doubt of {} says why",
            total.doubted,
            all - failed,
            out.join("summary.csv").display()
        );
    }
    if total.alerted > 0 {
        eprintln!(
            "{} of {} recordings have alerts on top of their page; the column alerts of {} holds them",
            total.alerted,
            all - failed,
            out.join("summary.csv").display()
        );
    }
    if failed > 0 {
        bail!("{failed} of {all} recordings failed; {} says why", said.display());
    }
    Ok(())
}

/// Held as long as a run writes into a folder: two at once would take each other's files away.
#[cfg(unix)]
fn alone(out: &Path) -> Result<fs::File> {
    let folder = fs::File::open(out).with_context(|| format!("cannot read {}", out.display()))?;
    match folder.try_lock() {
        Err(fs::TryLockError::WouldBlock) => {
            bail!("another run writes into {} now", out.display())
        }
        // Not every file system locks.
        Ok(()) | Err(fs::TryLockError::Error(_)) => Ok(folder),
    }
}

#[cfg(not(unix))]
fn alone(_: &Path) -> Result<()> {
    Ok(())
}

/// Results do not stand among what is read.
fn refuse_place(folder: &Path, out: &Path) -> Result<()> {
    if !folder.is_dir() {
        bail!("cannot read the folder {}: it is none", folder.display());
    }
    if out.exists() && !out.is_dir() {
        bail!("--out is a folder for the tables, and {} is none", out.display());
    }
    if out.canonicalize().ok().is_some_and(|out| Some(out) == folder.canonicalize().ok()) {
        bail!("--out is the folder of the recordings; give it one of its own");
    }
    Ok(())
}

/// What all recordings together came to.
#[derive(Debug, Default, Clone, Copy)]
pub struct Total {
    /// How many hours they last.
    pub hours: f64,
    /// How many breaths they hold.
    pub breaths: u64,
    /// How many of them are in doubt as a whole, or have breaths that cannot be.
    pub doubted: u64,
    /// How many have alerts on top of their page, those in doubt among them.
    pub alerted: u64,
}

impl Archive {
    /// By entries as a settings file has them.
    ///
    /// # Errors
    /// Where an entry does not fit, or a folder is none or the other one.
    pub fn new(folder: &Path, out: &Path, entries: toml::Table) -> Result<Self> {
        refuse_place(folder, out)?;
        let settings = Settings::of_all(entries, Args::default())?;
        Ok(Self { folder: folder.into(), out: out.into(), settings })
    }

    /// The paths of its recordings within the folder, by name.
    ///
    /// # Errors
    /// Where the folder cannot be read or holds none.
    pub fn recordings(&self) -> Result<Vec<PathBuf>> {
        Ok(self.found(&RefCell::default())?.into_iter().map(|found| found.within).collect())
    }

    /// Replays one of them, whose tables then stand in their places; true where they already did, of the
    /// same file by the same settings.
    ///
    /// # Errors
    /// Where it cannot be read; none of its tables is there then.
    pub fn replay(&self, within: &Path) -> Result<bool> {
        let is_within = within.components().all(|part| matches!(part, Component::Normal(_)));
        if within.as_os_str().is_empty() || !is_within {
            bail!("{} is no path within the folder of the recordings", within.display());
        }
        self.one(&find::of(&self.folder, within))
    }

    /// Writes the summary of all that are done, and the failures: paths as tables print them, and reasons. What
    /// killed processes had under way is taken away.
    ///
    /// # Errors
    /// Where these cannot be written.
    pub fn finish(&self, failures: &[(String, String)]) -> Result<Total> {
        let table = |name: &str| -> Result<_> {
            Ok(csv::Writer::from_writer(Aside::create(&self.out.join(name))?))
        };
        fs::create_dir_all(&self.out)?;
        find::remove_scratch(&self.out);
        let found = self.found(&RefCell::default())?;
        done::remove_others(&self.out, &found);
        let (mut summary, mut failed) = (table("summary.csv")?, table("failures.csv")?);
        let columns = done::columns();
        summary
            .write_record(["file"].into_iter().chain(columns.iter().map(|column| column.name)))?;
        failed.write_record(["file", "reason"])?;
        for (file, why) in failures {
            failed.write_record([&tame(file), why])?;
        }
        let place = |name: &str| {
            columns.iter().position(|column| column.name == name).map_or(0, |at| at + 1)
        };
        let (hours, breaths) = (place("hours"), place("breaths"));
        let (alerts, doubt) = (place("alerts"), place("doubt"));
        let mut total = Total::default();
        for found in &found {
            let Some(row) = self.places(found).row() else { continue };
            let number =
                |at: usize| row.get(at).and_then(|cell| cell.parse::<f64>().ok()).unwrap_or(0.0);
            total.hours += number(hours);
            total.breaths += number(breaths) as u64;
            let is_said = |at: usize| u64::from(row.get(at).is_some_and(|cell| !cell.is_empty()));
            total.alerted += is_said(alerts);
            total.doubted += is_said(doubt);
            summary.write_record(&row)?;
        }
        for table in [summary, failed] {
            let mut aside = table.into_inner().map_err(csv::IntoInnerError::into_error)?;
            aside.flush()?;
            aside.keep()?;
        }
        Ok(total)
    }

    /// What is left out is told there.
    fn found(&self, left: &RefCell<Vec<String>>) -> Result<Vec<Found>> {
        let found = find::recordings(&self.folder, &self.out, left)?;
        if found.is_empty() {
            bail!("{} holds no recording", self.folder.display());
        }
        Ok(found)
    }

    fn places(&self, found: &Found) -> Places {
        Places::of(&self.out, found, self.settings.args.tables.end())
    }

    /// True where it was done before.
    fn one(&self, found: &Found) -> Result<bool> {
        let places = self.places(found);
        places.remove_other_kind();
        let done = self.unless_done(found, &places);
        if done.is_err() {
            places.remove();
        }
        done
    }

    fn unless_done(&self, found: &Found, places: &Places) -> Result<bool> {
        if let Some(refused) = found.refused {
            bail!("{}: {refused}", found.path.display());
        }
        let strict = self.settings.args.strict;
        let own = self.settings.of(found).with_context(|| found.path.display().to_string())?;
        let fingerprint = fingerprint(found, &own, strict)?;
        if places.is_done(&fingerprint) {
            return Ok(true);
        }
        places.remove();
        let mut recording = Recording::open(&found.path, &own.layout, strict)?;
        recording.hide();
        let mut tables = places.create(&fingerprint)?;
        tabulate(&mut Source::Recording(Box::new(recording)), &own.setup, &mut tables)?;
        tables.keep()?;
        Ok(false)
    }
}

fn progress(files: usize) -> ProgressBar {
    // Drawn on standard error, and only where that is a terminal.
    let style = ProgressStyle::with_template("{bar:30} {pos} of {len} recordings, {eta} left");
    ProgressBar::new(files as u64)
        .with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()))
}
