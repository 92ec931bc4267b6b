//! What a run leaves of each recording, so that the next goes on where this one was killed.

use super::digest::digest;
use super::find::{Found, printed, with_end};
use super::settings::Own;
use crate::output::place::Aside;
use crate::output::sheet::Sheet;
use crate::tables::column::{Cell, Column};
use crate::tables::tabulate::{Sink, Table};
use anyhow::{Context, Result};
use std::collections::HashSet;
use std::collections::hash_map::DefaultHasher;
use std::fs;
use std::hash::{Hash, Hasher};
use std::path::{Path, PathBuf};
use walkdir::WalkDir;

/// The column behind those of the summary: another where recording, settings or program are.
const FINGERPRINT: Column = Column::text("fingerprint");

/// Where the tables of a recording go.
pub(super) struct Places {
    tables: [PathBuf; 4],
    file: String,
}

impl Places {
    pub(super) fn of(out: &Path, found: &Found, end: &str) -> Self {
        let place = |table: Table| {
            let end = if table == Table::Summary { "csv" } else { end };
            with_end(&out.join(table.name()).join(&found.within), &format!(".{end}"))
        };
        Self { tables: Table::ALL.map(place), file: printed(&found.within) }
    }

    fn path(&self, table: Table) -> &Path {
        &self.tables[table as usize]
    }

    /// Whether the recording was done before, from the same by the same.
    pub(super) fn is_done(&self, fingerprint: &str) -> bool {
        self.row().is_some_and(|row| row.iter().next_back() == Some(fingerprint))
    }

    /// Its row of the summary, where all its tables are there.
    pub(super) fn row(&self) -> Option<csv::StringRecord> {
        if !self.tables.iter().all(|path| path.is_file()) {
            return None;
        }
        let mut reader = csv::Reader::from_path(self.path(Table::Summary)).ok()?;
        let row = reader.records().next()?.ok()?;
        (row.len() == columns().len() + 1).then_some(row)
    }

    /// What is there of it is of another, or of nothing that can be read.
    pub(super) fn remove(&self) {
        for path in &self.tables {
            let _ = fs::remove_file(path);
        }
    }

    /// What an earlier run wrote in the other kind may be by other settings.
    pub(super) fn remove_other_kind(&self) {
        for path in &self.tables[..3] {
            let other =
                if path.extension().is_some_and(|end| end == "csv") { "parquet" } else { "csv" };
            let _ = fs::remove_file(path.with_extension(other));
        }
    }

    pub(super) fn create(&self, fingerprint: &str) -> Result<Tables> {
        let create = |table: Table| {
            let path = self.path(table);
            let folder = path.parent().unwrap_or(Path::new("."));
            fs::create_dir_all(folder)
                .with_context(|| format!("cannot make {}", folder.display()))?;
            let columns =
                if table == Table::Summary { columns() } else { table.columns().to_vec() };
            Sheet::create(path, &columns, Some(&self.file))
        };
        Ok(Tables {
            sheets: [
                create(Table::Breaths)?,
                create(Table::Events)?,
                create(Table::Minutes)?,
                create(Table::Summary)?,
            ],
            fingerprint: fingerprint.into(),
        })
    }
}

/// Takes away the tables of recordings that are not there any more.
pub(super) fn remove_others(out: &Path, found: &[Found]) {
    let summaries = out.join(Table::Summary.name());
    let known: HashSet<PathBuf> =
        found.iter().map(|found| with_end(&summaries.join(&found.within), ".csv")).collect();
    for entry in WalkDir::new(&summaries).into_iter().flatten() {
        let path = entry.path();
        if !entry.file_type().is_file() || known.contains(path) {
            continue;
        }
        let Ok(within) = path.strip_prefix(&summaries) else { continue };
        let within = within.with_extension("");
        for end in ["csv", "parquet"] {
            let gone = Found { path: PathBuf::new(), within: within.clone(), refused: None };
            Places::of(out, &gone, end).remove();
        }
    }
}

/// The tables of a recording under way.
pub(super) struct Tables {
    sheets: [Sheet; 4],
    fingerprint: String,
}

impl Sink for Tables {
    fn row(&mut self, table: Table, row: &[Cell]) -> Result<()> {
        let sheet = &mut self.sheets[table as usize];
        if table == Table::Summary {
            let fingerprint = Cell::Text(self.fingerprint.clone());
            return sheet.row(&[row, &[fingerprint]].concat());
        }
        sheet.row(row)
    }
}

impl Tables {
    /// Each takes its place, the summary last: where it stands, all do.
    pub(super) fn keep(self) -> Result<()> {
        self.sheets.into_iter().try_for_each(|sheet| Aside::keep(sheet.finish()?))
    }
}

/// The columns of the summary of all recordings.
pub(super) fn columns() -> Vec<Column> {
    Table::Summary.columns().iter().copied().chain([FINGERPRINT]).collect()
}

/// Of a recording, of its settings, and of this program.
pub(super) fn fingerprint(found: &Found, own: &Own, strict: bool) -> Result<String> {
    let mut hasher = DefaultHasher::new();
    digest(&found.path, &mut hasher)
        .with_context(|| format!("cannot read {}", found.path.display()))?;
    (&own.entries, strict).hash(&mut hasher);
    (env!("CARGO_PKG_VERSION"), Table::ALL.map(|table| table.columns().len())).hash(&mut hasher);
    Ok(format!("{:016x}", hasher.finish()))
}
