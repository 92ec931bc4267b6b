//! The settings of each recording: those of all, and its own before them.

use super::find::{Found, printed, stem, with_end};
use crate::args::Args;
use crate::config::{self, File, Setup};
use crate::input::layout::Layout;
use anyhow::{Context, Result, bail};
use std::collections::BTreeMap;
use std::path::Path;
use toml::{Table, Value};

/// What all recordings go by, and what some have of their own.
pub(super) struct Settings {
    pub(super) args: Args,
    common: Table,
    each: BTreeMap<String, Table>,
}

/// What one recording goes by.
pub(super) struct Own {
    pub(super) setup: Setup,
    pub(super) layout: Layout,
    /// The entries, as a text that differs where they do.
    pub(super) entries: String,
}

impl Settings {
    pub(super) fn read(args: &Args) -> Result<Self> {
        let common = match &args.settings {
            Some(path) => config::read(path)?.1,
            None => Table::new(),
        };
        Self::of_all(common, args.clone())
    }

    /// Of entries that stand in no file.
    pub(super) fn of_all(common: Table, args: Args) -> Result<Self> {
        let each = args.each.as_deref().map(table).transpose()?.unwrap_or_default();
        let settings = Self { args, common, each };
        // What is wrong for all is said once.
        settings.of_entries(settings.common.clone())?;
        Ok(settings)
    }

    /// Recordings that the table names and the folder does not hold.
    pub(super) fn unknown(&self, found: &[Found]) -> Vec<&str> {
        let known: Vec<_> = found.iter().map(|found| printed(&found.within)).collect();
        self.each
            .keys()
            .map(String::as_str)
            .filter(|name| !known.iter().any(|known| known == name))
            .collect()
    }

    /// The common ones, the table's, and those of `a.csv.toml` or `a.toml` beside `a.csv`, the later
    /// before the earlier; the command line before all.
    pub(super) fn of(&self, found: &Found) -> Result<Own> {
        let mut entries = self.common.clone();
        if let Some(own) = self.each.get(&printed(&found.within)) {
            entries.extend(own.clone());
        }
        let beside = [with_end(&found.path, ".toml"), with_end(&stem(&found.path), ".toml")];
        if let Some(path) = beside.iter().find(|path| path.is_file()) {
            entries.extend(config::read(path)?.1);
        }
        self.of_entries(entries)
    }

    fn of_entries(&self, entries: Table) -> Result<Own> {
        let text = format!("{entries} {:?}", self.args.settings_of_all());
        let file = File::of_entries(entries)?;
        let layout = file.layout(&self.args)?;
        Ok(Own { setup: config::setup(&self.args, file, File::default())?, layout, entries: text })
    }
}

/// A table keyed by `file`: every other column is an entry of the settings, empty where it is not set.
fn table(path: &Path) -> Result<BTreeMap<String, Table>> {
    let context = || format!("cannot read the table {}", path.display());
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).from_path(path).with_context(context)?;
    let header = reader.headers().with_context(context)?.clone();
    let Some(key) = header.iter().position(|name| name == "file") else {
        bail!("{}: no column is called file", path.display());
    };
    let mut names: Vec<_> = header.iter().collect();
    names.sort_unstable();
    if let Some(twice) = names.windows(2).find(|pair| pair[0] == pair[1]) {
        bail!("{}: two columns are called {:?}", path.display(), twice[0]);
    }
    let mut rows = BTreeMap::new();
    for (line, row) in reader.records().enumerate() {
        let row = row.with_context(context)?;
        let mut entries = Table::new();
        for (i, (name, cell)) in header.iter().zip(&row).enumerate() {
            if i != key && !cell.is_empty() {
                entries.insert(name.into(), value(cell));
            }
        }
        let file = row.get(key).unwrap_or_default().to_owned();
        // A name that is no entry, or a value that is none, is told here, with its line.
        File::of_entries(entries.clone())
            .with_context(|| format!("{}:{}", path.display(), line + 2))?;
        if rows.insert(file.clone(), entries).is_some() {
            bail!("{}:{}: {file:?} stands in it twice", path.display(), line + 2);
        }
    }
    Ok(rows)
}

/// A number where it is one, else a word.
fn value(cell: &str) -> Value {
    if let Ok(whole) = cell.parse::<i64>() {
        return whole.into();
    }
    cell.parse::<f64>().map_or_else(|_| cell.into(), Value::from)
}
