//! Many recordings at once: one table of breaths, a row each, with the file's name.

use crate::args::Args;
use crate::config::Course;
use crate::config::{self, File, Setup};
use crate::input::layout::Layout;
use crate::input::recording::Recording;
use crate::output::place::Aside;
use crate::output::row::{self, Cell};
use crate::output::same;
use crate::output::sheet::Sheet;
use crate::source::Source;
use crate::stream::{Step, Stream};
use crate::text::printable;
use crate::timeline::Timeline;
use anyhow::{Context, Result, bail};
use indicatif::{ProgressBar, ProgressStyle};
use rayon::prelude::*;
use std::fs;
use std::path::{Path, PathBuf};
use tidevane::monitor::{Monitor, Report};

/// So many recordings are held at once.
const BATCH: usize = 64;

/// The breaths of one recording.
type Rows = Vec<[Cell; row::COLUMNS.len()]>;

/// Replays every `.csv` of a folder by the same settings, in the order of the names whatever core
/// took them. One that cannot be read is told and left out, and the run fails when the others are
/// done; where none can be read, nothing is written.
pub(crate) fn replay(folder: &Path, out: &Path, args: &Args) -> Result<()> {
    let files = recordings(folder)?;
    refuse_input(&files, out)?;
    let file = File::read(args)?;
    let layout = file.layout(args)?;
    let setup = config::setup(args, file, File::default())?;
    let mut sheet = Sheet::create(out)?;
    let bar = progress(files.len());
    let (mut breaths, mut failed) = (0, 0);
    for batch in files.chunks(BATCH) {
        let results: Vec<_> = batch
            .par_iter()
            .map(|path| {
                let rows = one(path, &layout, &setup, args.strict);
                bar.inc(1);
                rows
            })
            .collect();
        for (path, rows) in batch.iter().zip(results) {
            match rows {
                Ok(rows) => {
                    breaths += rows.len();
                    sheet.rows(&name(path), &rows)?;
                }
                Err(error) => {
                    failed += 1;
                    bar.suspend(|| eprintln!("failed: {}", printable(&format!("{error:#}"))));
                }
            }
        }
    }
    bar.finish_and_clear();
    if failed == files.len() {
        bail!("none of the {} recordings in {} could be read", files.len(), folder.display());
    }
    Aside::keep(sheet.finish()?)?;
    if !args.quiet {
        println!(
            "{breaths} breaths of {} recordings; {failed} failed. Advisory only, not a medical \
             device.",
            files.len() - failed
        );
    }
    if failed > 0 {
        bail!("{failed} of {} recordings failed; {} holds the others", files.len(), out.display());
    }
    Ok(())
}

/// A result must not take a recording's place.
fn refuse_input(files: &[PathBuf], out: &Path) -> Result<()> {
    match files.iter().find(|file| same::is_same(file, out)) {
        Some(file) => bail!("--out is one of the recordings: {}", file.display()),
        None => Ok(()),
    }
}

/// The recordings of a folder, by name.
fn recordings(folder: &Path) -> Result<Vec<PathBuf>> {
    let read = || format!("cannot read the folder {}", folder.display());
    let mut files = Vec::new();
    for entry in fs::read_dir(folder).with_context(read)? {
        let path = entry.with_context(read)?.path();
        let is_csv = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("csv"));
        if is_csv && path.is_file() {
            files.push(path);
        }
    }
    if files.is_empty() {
        bail!("{} holds no .csv", folder.display());
    }
    files.sort();
    Ok(files)
}

fn name(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// The breaths of one recording; its changes are those of the settings file.
fn one(path: &Path, layout: &Layout, setup: &Setup, strict: bool) -> Result<Rows> {
    let mut recording = Recording::open(path, layout, strict)?;
    recording.hide();
    let mut source = Source::Recording(Box::new(recording));
    let mut course = Course::of_file(setup.changes.clone().unwrap_or_default())?;
    let mut monitor = Monitor::new(setup.settings);
    let mut timeline = Timeline::new(setup.cut);
    let mut rows = Rows::new();
    let mut samples = 0_u64;
    let mut take = |report: Report| rows.extend(report.breath.as_ref().map(row::of));
    let mut stream = Stream::new(&mut source, setup.cut);
    while let Some(step) = stream.next()? {
        match step {
            Step::Lost => take(monitor.lost()),
            Step::Silent(at) => take(monitor.tick_at(at)),
            Step::Reading(at, reading) => {
                samples += 1;
                timeline.reading(at);
                while let Some(change) = course.due(timeline.seconds()) {
                    let settings = change.apply(monitor.settings())?;
                    take(monitor.settings_changed(at, settings));
                }
                take(monitor.push_at(at, reading));
            }
        }
    }
    loop {
        let report = monitor.finish();
        if report.is_silent() {
            break;
        }
        take(report);
    }
    if samples == 0 {
        bail!("{} holds no usable sample", source.name());
    }
    Ok(rows)
}

fn progress(files: usize) -> ProgressBar {
    // Drawn on standard error, and only where that is a terminal.
    let style = ProgressStyle::with_template("{bar:30} {pos} of {len} recordings, {eta} left");
    ProgressBar::new(files as u64)
        .with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()))
}
