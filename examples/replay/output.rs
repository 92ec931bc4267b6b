//! The files written: whole or not at all.

use crate::args::Args;
use crate::chart::Chart;
use anyhow::{Context, Result};
use csv::Writer;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;
use tidevane::breath::Kind;
use tidevane::monitor::{BreathReport, Event};
use tidevane::quantity::{Moment, Pressure, Share, Volume};
use tidevane::signal::Reading;

const BREATHS: [&str; 17] = [
    "onset_us",
    "end_insp_us",
    "end_us",
    "kind",
    "initiation",
    "insp_ml",
    "exp_ml",
    "leak_share",
    "corrected_ml",
    "corrected_sd_ml",
    "peak_cmH2O",
    "baseline_cmH2O",
    "mean_cmH2O",
    "compliance_ml_per_cmH2O",
    "resistance_cmH2O_s_per_l",
    "fit_r2",
    "flags",
];

/// The files asked for, kept aside until the whole recording has been read.
pub(crate) struct Outputs {
    breaths: Option<Table>,
    events: Option<Table>,
    chart: Option<(PathBuf, Chart)>,
}

impl Outputs {
    pub(crate) fn create(args: &Args) -> Result<Self> {
        Ok(Self {
            breaths: args.breaths.as_deref().map(|to| Table::create(to, &BREATHS)).transpose()?,
            events: args
                .events
                .as_deref()
                .map(|to| Table::create(to, &["t_us", "event", "detail"]))
                .transpose()?,
            chart: args.chart.clone().map(|to| (to, Chart::default())),
        })
    }

    pub(crate) fn reading(&mut self, at: Moment, reading: Reading) {
        if let Some((_, chart)) = &mut self.chart {
            chart.reading(at, reading);
        }
    }

    pub(crate) fn breath(&mut self, report: &BreathReport) -> Result<()> {
        if let Some((_, chart)) = &mut self.chart {
            chart.breath(&report.breath);
        }
        let Some(table) = &mut self.breaths else { return Ok(()) };
        let breath = &report.breath;
        let none = String::new;
        table.row([
            breath.onset.to_us().to_string(),
            breath.end_insp.to_us().to_string(),
            breath.end.to_us().to_string(),
            match breath.kind {
                Kind::Inflation => "inflation".into(),
                Kind::Own => "own".into(),
            },
            none(),
            ml(breath.inspired().within()),
            ml(breath.expired().within()),
            report.leak.share().map_or_else(none, |s| format!("{:.4}", Share::get(s))),
            none(),
            none(),
            cmh2o(Some(breath.peak)),
            cmh2o(Some(breath.baseline)),
            cmh2o(breath.mean_pressure()),
            none(),
            none(),
            none(),
            breath.flags.to_string(),
        ])
    }

    pub(crate) fn event(&mut self, event: &Event) -> Result<()> {
        let Some(table) = &mut self.events else { return Ok(()) };
        table.row([event.at.to_us().to_string(), event.what.name().into(), event.to_string()])
    }

    /// The recording was read to its end: the files take their places.
    pub(crate) fn keep(self) -> Result<()> {
        for table in [self.breaths, self.events].into_iter().flatten() {
            table.keep()?;
        }
        if let Some((to, chart)) = self.chart {
            let svg = chart.draw().context("cannot draw the chart")?;
            let aside = aside(&to)?;
            fs::write(aside.path(), svg).with_context(|| cannot_write(&to))?;
            place(aside, &to)?;
        }
        Ok(())
    }
}

fn ml(volume: Option<Volume>) -> String {
    volume.map_or_else(String::new, |v| format!("{:.3}", v.get()))
}

fn cmh2o(pressure: Option<Pressure>) -> String {
    pressure.map_or_else(String::new, |p| format!("{:.2}", p.get()))
}

struct Table {
    to: PathBuf,
    writer: Writer<NamedTempFile>,
}

impl Table {
    fn create(to: &Path, header: &[&str]) -> Result<Self> {
        let mut writer = Writer::from_writer(aside(to)?);
        writer.write_record(header).with_context(|| cannot_write(to))?;
        Ok(Self { to: to.into(), writer })
    }

    fn row<const N: usize>(&mut self, cells: [String; N]) -> Result<()> {
        self.writer.write_record(cells).with_context(|| cannot_write(&self.to))
    }

    fn keep(self) -> Result<()> {
        let file = self.writer.into_inner().map_err(|e| e.into_error());
        place(file.with_context(|| cannot_write(&self.to))?, &self.to)
    }
}

/// A file beside the target, so that taking its place is one step.
fn aside(to: &Path) -> Result<NamedTempFile> {
    let folder = match to.parent() {
        Some(folder) if is_special(to) || folder.as_os_str().is_empty() => None,
        folder => folder,
    };
    let file = match folder {
        Some(folder) => NamedTempFile::new_in(folder),
        None if is_special(to) => NamedTempFile::new(),
        None => NamedTempFile::new_in("."),
    };
    file.with_context(|| cannot_write(to))
}

/// A pipe or device stays what it is and is written to; anything else is replaced.
fn is_special(to: &Path) -> bool {
    to.metadata().is_ok_and(|meta| !meta.is_file())
}

fn place(file: NamedTempFile, to: &Path) -> Result<()> {
    if is_special(to) {
        fs::copy(file.path(), to).map(|_| ()).with_context(|| cannot_write(to))
    } else {
        let path = file.into_temp_path();
        readable_by_all(&path)?;
        path.persist(to).with_context(|| cannot_write(to))
    }
}

/// Files set aside are private; what takes its place gets the usual rights.
#[cfg(unix)]
fn readable_by_all(path: &Path) -> Result<()> {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(path, fs::Permissions::from_mode(0o644)).with_context(|| cannot_write(path))
}

#[cfg(not(unix))]
fn readable_by_all(_: &Path) -> Result<()> {
    Ok(())
}

fn cannot_write(to: &Path) -> String {
    format!("cannot write {}", to.display())
}
